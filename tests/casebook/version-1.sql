-- A casebook as version 1 of the schema wrote it: two people, three sessions of simulated clips.
PRAGMA journal_mode = WAL;
BEGIN;
-- People, and their sessions: the whole result as it was written, and what it is looked up by.
CREATE TABLE person (
  id INTEGER PRIMARY KEY,
  pseudonym TEXT NOT NULL UNIQUE
) STRICT;

-- A number is never given twice, so that a note in a chart keeps its meaning.
CREATE TABLE session (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  date TEXT NOT NULL CHECK (date = strftime('%Y-%m-%d', date)),
  exercise TEXT NOT NULL,
  side TEXT NOT NULL CHECK (side IN ('left', 'right')),
  sha256 TEXT NOT NULL UNIQUE,
  review TEXT NOT NULL
) STRICT;

CREATE INDEX session_by_course ON session (person, exercise, side, date);
INSERT INTO person VALUES (1, 'wren-1'), (2, 'grebe-2');
INSERT INTO session VALUES (1, 1, '2026-02-16', 'outward-rotation', 'right', '1e6b094dba984964ae4234271d8397b4ec8240b490689353450d6dd901c79155', '{
  "format": "scaplane.review/1",
  "program": {
    "name": "scaplane",
    "version": "0.1.0"
  },
  "clip": {
    "source": "clip-1.csv",
    "sha256": "425a08fcd179d9b409ccff90301cfedf5d7d1684467976ff71e79f9e7ec962e4",
    "reader": "tidy-csv",
    "layout": "tidy",
    "space": "image",
    "frames": 522,
    "duration_s": 17.3667,
    "rate_hz": 30.0,
    "timing": "stamped",
    "person": "0",
    "view": {
      "name": "front",
      "yaw_deg": 0.0,
      "low_deg": -23.5196,
      "high_deg": 23.5196,
      "stated": false
    },
    "coverage": {
      "ear-left": 1.0,
      "ear-right": 1.0,
      "elbow-left": 1.0,
      "elbow-right": 1.0,
      "hip-left": 1.0,
      "hip-right": 1.0,
      "mid-hip": 1.0,
      "nose": 1.0,
      "shoulder-left": 1.0,
      "shoulder-right": 1.0,
      "wrist-left": 1.0,
      "wrist-right": 1.0
    },
    "cutoff_hz": 7.5
  },
  "exercise": "outward-rotation",
  "side": "right",
  "notes": [
    {
      "code": "read/points-unused",
      "text": "No joint is taken from the points `neck`."
    },
    {
      "code": "condition/cutoff",
      "text": "Low-pass at 7.5 Hz, chosen by residual analysis."
    },
    {
      "code": "lift/used",
      "text": "Angles are lifted from one picture: upper arm 0.68 and forearm 0.57 of the trunk''s length, trunk turned 0 degrees to the phone (standard deviation 12)."
    }
  ],
  "reps": [
    {
      "number": 1,
      "set": 1,
      "start_frame": 109,
      "peak_frame": 187,
      "end_frame": 243,
      "start_s": 3.6333,
      "peak_s": 6.2333,
      "end_s": 8.1,
      "complete": true,
      "verdict": "cannot-tell",
      "judged": {
        "measurable": 4,
        "of": 6
      },
      "readings": {
        "elbow-range": {
          "value": 2.9096,
          "low": -30.1116,
          "high": 35.9307,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "girdle-rise": {
          "value": -0.0106,
          "low": -2.5259,
          "high": 2.5047,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "hold-time": {
          "value": 0.8667,
          "low": 0.6949,
          "high": 1.0384,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "lower-time": {
          "value": 1.7,
          "low": 1.5283,
          "high": 1.8717,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "outward-rotation-peak": {
          "value": 47.1786,
          "low": 25.2099,
          "high": 69.1472,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "peak-elevation": {
          "value": 10.5009,
          "low": -9.173,
          "high": 30.1748,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "raise-time": {
          "value": 1.9,
          "low": 1.7283,
          "high": 2.0717,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-lower": {
          "value": -1.4035,
          "low": -1.6974,
          "high": -1.1095,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-raise": {
          "value": -1.3978,
          "low": -1.6918,
          "high": -1.1038,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-lean": {
          "value": 0.9074,
          "low": 0.0,
          "high": 3.2594,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-turn": {
          "value": null,
          "unit": "deg",
          "why": {
            "code": "wrong-view",
            "text": "this view cannot tell; the picture looks along the wrong direction"
          }
        }
      },
      "findings": [
        {
          "code": "ill-conditioned",
          "measure": "outward-rotation-peak",
          "verdict": "cannot-tell",
          "limit": [
            30.0,
            null
          ],
          "margin": 17.1786,
          "unit": "deg",
          "worst_s": 6.2333,
          "worst_frame": 187,
          "text": "Cannot tell: the interval is too wide for the limit.",
          "cue": "",
          "source": "common practice, no source"
        },
        {
          "code": "wrong-view",
          "measure": "trunk-turn",
          "verdict": "cannot-tell",
          "limit": [
            null,
            20.0
          ],
          "margin": null,
          "unit": "deg",
          "worst_s": null,
          "worst_frame": null,
          "text": "Cannot tell: this view cannot tell; the picture looks along the wrong direction.",
          "cue": "",
          "source": "common practice, no source"
        }
      ]
    },
    {
      "number": 2,
      "set": 1,
      "start_frame": 281,
      "peak_frame": 322,
      "end_frame": 408,
      "start_s": 9.3667,
      "peak_s": 10.7333,
      "end_s": 13.6,
      "complete": true,
      "verdict": "within",
      "judged": {
        "measurable": 5,
        "of": 6
      },
      "readings": {
        "elbow-range": {
          "value": 3.3762,
          "low": -30.0003,
          "high": 36.7528,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "girdle-rise": {
          "value": 0.00888,
          "low": -2.5084,
          "high": 2.5261,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "hold-time": {
          "value": 0.8667,
          "low": 0.7045,
          "high": 1.0289,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "lower-time": {
          "value": 2.0333,
          "low": 1.8711,
          "high": 2.1955,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "outward-rotation-peak": {
          "value": 54.7833,
          "low": 32.4729,
          "high": 77.0938,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "peak-elevation": {
          "value": 11.57,
          "low": -8.2578,
          "high": 31.3979,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "raise-time": {
          "value": 1.3333,
          "low": 1.1711,
          "high": 1.4955,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-lower": {
          "value": -1.3911,
          "low": -1.685,
          "high": -1.0971,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-raise": {
          "value": -1.4073,
          "low": -1.7013,
          "high": -1.1133,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-lean": {
          "value": 0.562,
          "low": 0.0,
          "high": 2.914,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-turn": {
          "value": null,
          "unit": "deg",
          "why": {
            "code": "wrong-view",
            "text": "this view cannot tell; the picture looks along the wrong direction"
          }
        }
      },
      "findings": [
        {
          "code": "wrong-view",
          "measure": "trunk-turn",
          "verdict": "cannot-tell",
          "limit": [
            null,
            20.0
          ],
          "margin": null,
          "unit": "deg",
          "worst_s": null,
          "worst_frame": null,
          "text": "Cannot tell: this view cannot tell; the picture looks along the wrong direction.",
          "cue": "",
          "source": "common practice, no source"
        }
      ]
    }
  ],
  "sets": [
    {
      "number": 1,
      "reps": [
        1,
        2
      ],
      "drift": [
        {
          "measure": "outward-rotation-peak",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.4027,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 17.1786,
              "low": -4.7901,
              "high": 39.1472
            },
            {
              "rep": 2,
              "margin": 24.7833,
              "low": 2.4729,
              "high": 47.0938
            }
          ],
          "text": "Largest outward rotation: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "peak-elevation",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.0401,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 24.4991,
              "low": 4.8252,
              "high": 44.173
            },
            {
              "rep": 2,
              "margin": 23.43,
              "low": 3.6021,
              "high": 43.2578
            }
          ],
          "text": "Highest elevation: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "trunk-turn",
          "reps": 0,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": null,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [],
          "text": "Turn of the trunk: 0 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "trunk-lean",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.0145,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 14.0926,
              "low": 11.7406,
              "high": 15.0
            },
            {
              "rep": 2,
              "margin": 14.438,
              "low": 12.086,
              "high": 15.0
            }
          ],
          "text": "Lean of the trunk: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "raise-time",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "s",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.2361,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 0.9,
              "low": 0.7283,
              "high": 1.0717
            },
            {
              "rep": 2,
              "margin": 0.3333,
              "low": 0.1711,
              "high": 0.4955
            }
          ],
          "text": "Time of the way out: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "lower-time",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "s",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.2361,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 0.7,
              "low": 0.5283,
              "high": 0.8717
            },
            {
              "rep": 2,
              "margin": 1.0333,
              "low": 0.8711,
              "high": 1.1955
            }
          ],
          "text": "Time of the way back: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        }
      ]
    }
  ],
  "unseen": [
    {
      "measure": "outward-rotation-peak",
      "title": "Largest outward rotation",
      "measurable": 1,
      "of": 2,
      "why": {
        "code": "ill-conditioned",
        "text": "from this view a small error in the picture becomes a large error in the angle"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    },
    {
      "measure": "trunk-turn",
      "title": "Turn of the trunk",
      "measurable": 0,
      "of": 2,
      "why": {
        "code": "wrong-view",
        "text": "this view cannot tell; the picture looks along the wrong direction"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    }
  ],
  "compare": {
    "other_side": null,
    "reference": null
  },
  "cautions": [
    "This measures movement from video. It is no diagnosis and no medical device.",
    "The surgeon''s and the therapist''s protocol comes first; limits are defaults that the treating clinician may change.",
    "Stop on sharp or rising pain, numbness or a new loss of strength, and call the clinic.",
    "Cannot tell is an answer: what the page could not see is listed with the reason."
  ]
}
');
INSERT INTO session VALUES (2, 1, '2026-02-23', 'outward-rotation', 'right', 'b612459f44f00eacaf4bc73556cfd541fa7596d1c0a6b93baefe538007d0e1a0', '{
  "format": "scaplane.review/1",
  "program": {
    "name": "scaplane",
    "version": "0.1.0"
  },
  "clip": {
    "source": "clip-2.csv",
    "sha256": "6e31db760fa2ae827c48ca7748cf09dc4de6d20412183dd30647cb1f5918fdd2",
    "reader": "tidy-csv",
    "layout": "tidy",
    "space": "image",
    "frames": 514,
    "duration_s": 17.1,
    "rate_hz": 30.0,
    "timing": "stamped",
    "person": "0",
    "view": {
      "name": "front",
      "yaw_deg": 0.0,
      "low_deg": -23.5196,
      "high_deg": 23.5196,
      "stated": false
    },
    "coverage": {
      "ear-left": 1.0,
      "ear-right": 1.0,
      "elbow-left": 1.0,
      "elbow-right": 1.0,
      "hip-left": 1.0,
      "hip-right": 1.0,
      "mid-hip": 1.0,
      "nose": 1.0,
      "shoulder-left": 1.0,
      "shoulder-right": 1.0,
      "wrist-left": 1.0,
      "wrist-right": 1.0
    },
    "cutoff_hz": 7.5
  },
  "exercise": "outward-rotation",
  "side": "right",
  "notes": [
    {
      "code": "read/points-unused",
      "text": "No joint is taken from the points `neck`."
    },
    {
      "code": "condition/cutoff",
      "text": "Low-pass at 7.5 Hz, chosen by residual analysis."
    },
    {
      "code": "lift/used",
      "text": "Angles are lifted from one picture: upper arm 0.66 and forearm 0.50 of the trunk''s length, trunk turned 0 degrees to the phone (standard deviation 12)."
    }
  ],
  "reps": [
    {
      "number": 1,
      "set": 1,
      "start_frame": 109,
      "peak_frame": 156,
      "end_frame": 230,
      "start_s": 3.6333,
      "peak_s": 5.2,
      "end_s": 7.6667,
      "complete": true,
      "verdict": "within",
      "judged": {
        "measurable": 4,
        "of": 6
      },
      "readings": {
        "elbow-range": {
          "value": 7.5829,
          "low": -24.1664,
          "high": 39.3322,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "girdle-rise": {
          "value": 0.8662,
          "low": -1.6513,
          "high": 3.3836,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "hold-time": {
          "value": 0.9,
          "low": 0.7437,
          "high": 1.0563,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "lower-time": {
          "value": 1.6667,
          "low": 1.5104,
          "high": 1.823,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "outward-rotation-peak": {
          "value": 55.2947,
          "low": 32.2539,
          "high": 78.3355,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "peak-elevation": {
          "value": 13.3704,
          "low": -9.2204,
          "high": 35.9612,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "raise-time": {
          "value": 1.4667,
          "low": 1.3104,
          "high": 1.623,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-lower": {
          "value": -1.4004,
          "low": -1.6943,
          "high": -1.1064,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-raise": {
          "value": -1.397,
          "low": -1.691,
          "high": -1.103,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-lean": {
          "value": 1.1127,
          "low": 0.0,
          "high": 3.4646,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-turn": {
          "value": null,
          "unit": "deg",
          "why": {
            "code": "wrong-view",
            "text": "this view cannot tell; the picture looks along the wrong direction"
          }
        }
      },
      "findings": [
        {
          "code": "ill-conditioned",
          "measure": "peak-elevation",
          "verdict": "cannot-tell",
          "limit": [
            null,
            35.0
          ],
          "margin": 21.6296,
          "unit": "deg",
          "worst_s": 7.0333,
          "worst_frame": 211,
          "text": "Cannot tell: the interval is too wide for the limit.",
          "cue": "",
          "source": "common practice, no source"
        },
        {
          "code": "wrong-view",
          "measure": "trunk-turn",
          "verdict": "cannot-tell",
          "limit": [
            null,
            20.0
          ],
          "margin": null,
          "unit": "deg",
          "worst_s": null,
          "worst_frame": null,
          "text": "Cannot tell: this view cannot tell; the picture looks along the wrong direction.",
          "cue": "",
          "source": "common practice, no source"
        }
      ]
    },
    {
      "number": 2,
      "set": 1,
      "start_frame": 266,
      "peak_frame": 320,
      "end_frame": 402,
      "start_s": 8.8667,
      "peak_s": 10.6667,
      "end_s": 13.4,
      "complete": true,
      "verdict": "cannot-tell",
      "judged": {
        "measurable": 3,
        "of": 6
      },
      "readings": {
        "elbow-range": {
          "value": 7.0937,
          "low": -25.9775,
          "high": 40.1648,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "girdle-rise": {
          "value": 0.781,
          "low": -1.7367,
          "high": 3.2987,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "hold-time": {
          "value": 1.0333,
          "low": 0.8622,
          "high": 1.2045,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "lower-time": {
          "value": 1.9667,
          "low": 1.7955,
          "high": 2.1378,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "outward-rotation-peak": {
          "value": 49.5091,
          "low": 26.8578,
          "high": 72.1603,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "peak-elevation": {
          "value": 14.3956,
          "low": -8.7787,
          "high": 37.57,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "raise-time": {
          "value": 1.5333,
          "low": 1.3622,
          "high": 1.7045,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-lower": {
          "value": -1.3991,
          "low": -1.6931,
          "high": -1.1051,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-raise": {
          "value": -1.3989,
          "low": -1.6929,
          "high": -1.1049,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-lean": {
          "value": 0.6883,
          "low": 0.0,
          "high": 3.0402,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-turn": {
          "value": null,
          "unit": "deg",
          "why": {
            "code": "wrong-view",
            "text": "this view cannot tell; the picture looks along the wrong direction"
          }
        }
      },
      "findings": [
        {
          "code": "ill-conditioned",
          "measure": "outward-rotation-peak",
          "verdict": "cannot-tell",
          "limit": [
            30.0,
            null
          ],
          "margin": 19.5091,
          "unit": "deg",
          "worst_s": 10.6667,
          "worst_frame": 320,
          "text": "Cannot tell: the interval is too wide for the limit.",
          "cue": "",
          "source": "common practice, no source"
        },
        {
          "code": "ill-conditioned",
          "measure": "peak-elevation",
          "verdict": "cannot-tell",
          "limit": [
            null,
            35.0
          ],
          "margin": 20.6044,
          "unit": "deg",
          "worst_s": 9.2333,
          "worst_frame": 277,
          "text": "Cannot tell: the interval is too wide for the limit.",
          "cue": "",
          "source": "common practice, no source"
        },
        {
          "code": "wrong-view",
          "measure": "trunk-turn",
          "verdict": "cannot-tell",
          "limit": [
            null,
            20.0
          ],
          "margin": null,
          "unit": "deg",
          "worst_s": null,
          "worst_frame": null,
          "text": "Cannot tell: this view cannot tell; the picture looks along the wrong direction.",
          "cue": "",
          "source": "common practice, no source"
        }
      ]
    }
  ],
  "sets": [
    {
      "number": 1,
      "reps": [
        1,
        2
      ],
      "drift": [
        {
          "measure": "outward-rotation-peak",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.4079,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 25.2947,
              "low": 2.2539,
              "high": 48.3355
            },
            {
              "rep": 2,
              "margin": 19.5091,
              "low": -3.1422,
              "high": 42.1603
            }
          ],
          "text": "Largest outward rotation: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "peak-elevation",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.0219,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 21.6296,
              "low": -0.9612,
              "high": 44.2204
            },
            {
              "rep": 2,
              "margin": 20.6044,
              "low": -2.57,
              "high": 43.7787
            }
          ],
          "text": "Highest elevation: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "trunk-turn",
          "reps": 0,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": null,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [],
          "text": "Turn of the trunk: 0 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "trunk-lean",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.00798,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 13.8873,
              "low": 11.5354,
              "high": 15.0
            },
            {
              "rep": 2,
              "margin": 14.3117,
              "low": 11.9598,
              "high": 15.0
            }
          ],
          "text": "Lean of the trunk: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "raise-time",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "s",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.2315,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 0.4667,
              "low": 0.3104,
              "high": 0.623
            },
            {
              "rep": 2,
              "margin": 0.5333,
              "low": 0.3622,
              "high": 0.7045
            }
          ],
          "text": "Time of the way out: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "lower-time",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "s",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.2315,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 0.6667,
              "low": 0.5104,
              "high": 0.823
            },
            {
              "rep": 2,
              "margin": 0.9667,
              "low": 0.7955,
              "high": 1.1378
            }
          ],
          "text": "Time of the way back: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        }
      ]
    }
  ],
  "unseen": [
    {
      "measure": "outward-rotation-peak",
      "title": "Largest outward rotation",
      "measurable": 1,
      "of": 2,
      "why": {
        "code": "ill-conditioned",
        "text": "from this view a small error in the picture becomes a large error in the angle"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    },
    {
      "measure": "peak-elevation",
      "title": "Highest elevation",
      "measurable": 0,
      "of": 2,
      "why": {
        "code": "ill-conditioned",
        "text": "from this view a small error in the picture becomes a large error in the angle"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    },
    {
      "measure": "trunk-turn",
      "title": "Turn of the trunk",
      "measurable": 0,
      "of": 2,
      "why": {
        "code": "wrong-view",
        "text": "this view cannot tell; the picture looks along the wrong direction"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    }
  ],
  "plan": {
    "pseudonym": "wren-1",
    "phase": "strengthening",
    "operation_date": "2025-12-01",
    "pain_limit": 3.0,
    "prescribed": {
      "sets": 1,
      "repetitions": 2,
      "load_kg": 1.5,
      "resistance": null,
      "tempo_s": [
        null,
        null,
        null
      ]
    },
    "done": {
      "repetitions": [
        2
      ],
      "tempo_s": [
        1.5,
        0.9667,
        1.8167
      ]
    },
    "changed_limits": []
  },
  "reported": {
    "pain_before": null,
    "pain_during": 2.0,
    "pain_after": null,
    "effort": null
  },
  "compare": {
    "other_side": null,
    "reference": null
  },
  "cautions": [
    "This measures movement from video. It is no diagnosis and no medical device.",
    "The surgeon''s and the therapist''s protocol comes first; limits are defaults that the treating clinician may change.",
    "Stop on sharp or rising pain, numbness or a new loss of strength, and call the clinic.",
    "Cannot tell is an answer: what the page could not see is listed with the reason."
  ]
}
');
INSERT INTO session VALUES (3, 2, '2026-02-23', 'outward-rotation', 'right', '10eca870843280241317be432c200a14bbf9f8cb1b8a02940037817ead84b992', '{
  "format": "scaplane.review/1",
  "program": {
    "name": "scaplane",
    "version": "0.1.0"
  },
  "clip": {
    "source": "clip-3.csv",
    "sha256": "43a70d95d21f4d97e5bb75f2639025cf92eccd20df25ac8f192b1d9419abb605",
    "reader": "tidy-csv",
    "layout": "tidy",
    "space": "image",
    "frames": 516,
    "duration_s": 17.1667,
    "rate_hz": 30.0,
    "timing": "stamped",
    "person": "0",
    "view": {
      "name": "front",
      "yaw_deg": 0.0,
      "low_deg": -23.5196,
      "high_deg": 23.5196,
      "stated": false
    },
    "coverage": {
      "ear-left": 1.0,
      "ear-right": 1.0,
      "elbow-left": 1.0,
      "elbow-right": 1.0,
      "hip-left": 1.0,
      "hip-right": 1.0,
      "mid-hip": 1.0,
      "nose": 1.0,
      "shoulder-left": 1.0,
      "shoulder-right": 1.0,
      "wrist-left": 1.0,
      "wrist-right": 1.0
    },
    "cutoff_hz": 7.5
  },
  "exercise": "outward-rotation",
  "side": "right",
  "notes": [
    {
      "code": "read/points-unused",
      "text": "No joint is taken from the points `neck`."
    },
    {
      "code": "condition/cutoff",
      "text": "Low-pass at 7.5 Hz, chosen by residual analysis."
    },
    {
      "code": "lift/used",
      "text": "Angles are lifted from one picture: upper arm 0.64 and forearm 0.53 of the trunk''s length, trunk turned 0 degrees to the phone (standard deviation 12)."
    }
  ],
  "reps": [
    {
      "number": 1,
      "set": 1,
      "start_frame": 109,
      "peak_frame": 159,
      "end_frame": 237,
      "start_s": 3.6333,
      "peak_s": 5.3,
      "end_s": 7.9,
      "complete": true,
      "verdict": "cannot-tell",
      "judged": {
        "measurable": 4,
        "of": 6
      },
      "readings": {
        "elbow-range": {
          "value": 4.725,
          "low": -29.4138,
          "high": 38.8639,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "girdle-rise": {
          "value": -0.1741,
          "low": -2.7133,
          "high": 2.3651,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "hold-time": {
          "value": 0.9667,
          "low": 0.8024,
          "high": 1.131,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "lower-time": {
          "value": 1.7333,
          "low": 1.569,
          "high": 1.8976,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "outward-rotation-peak": {
          "value": 51.7693,
          "low": 29.008,
          "high": 74.5306,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "peak-elevation": {
          "value": 10.1575,
          "low": -9.0404,
          "high": 29.3554,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "raise-time": {
          "value": 1.5667,
          "low": 1.4024,
          "high": 1.731,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-lower": {
          "value": -1.4061,
          "low": -1.7001,
          "high": -1.1121,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-raise": {
          "value": -1.399,
          "low": -1.693,
          "high": -1.105,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-lean": {
          "value": 0.8829,
          "low": 0.0,
          "high": 3.2349,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-turn": {
          "value": null,
          "unit": "deg",
          "why": {
            "code": "wrong-view",
            "text": "this view cannot tell; the picture looks along the wrong direction"
          }
        }
      },
      "findings": [
        {
          "code": "ill-conditioned",
          "measure": "outward-rotation-peak",
          "verdict": "cannot-tell",
          "limit": [
            30.0,
            null
          ],
          "margin": 21.7693,
          "unit": "deg",
          "worst_s": 5.3,
          "worst_frame": 159,
          "text": "Cannot tell: the interval is too wide for the limit.",
          "cue": "",
          "source": "common practice, no source"
        },
        {
          "code": "wrong-view",
          "measure": "trunk-turn",
          "verdict": "cannot-tell",
          "limit": [
            null,
            20.0
          ],
          "margin": null,
          "unit": "deg",
          "worst_s": null,
          "worst_frame": null,
          "text": "Cannot tell: this view cannot tell; the picture looks along the wrong direction.",
          "cue": "",
          "source": "common practice, no source"
        }
      ]
    },
    {
      "number": 2,
      "set": 1,
      "start_frame": 269,
      "peak_frame": 343,
      "end_frame": 399,
      "start_s": 8.9667,
      "peak_s": 11.4333,
      "end_s": 13.3,
      "complete": true,
      "verdict": "cannot-tell",
      "judged": {
        "measurable": 4,
        "of": 6
      },
      "readings": {
        "elbow-range": {
          "value": 3.5302,
          "low": -33.7756,
          "high": 40.8361,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "girdle-rise": {
          "value": -0.6832,
          "low": -3.2286,
          "high": 1.8621,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "hold-time": {
          "value": 1.0,
          "low": 0.8346,
          "high": 1.1654,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "lower-time": {
          "value": 1.8,
          "low": 1.6346,
          "high": 1.9654,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "outward-rotation-peak": {
          "value": 51.8671,
          "low": 29.8351,
          "high": 73.899,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "peak-elevation": {
          "value": 11.0464,
          "low": -8.4229,
          "high": 30.5157,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "raise-time": {
          "value": 1.5333,
          "low": 1.3679,
          "high": 1.6987,
          "unit": "s",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-lower": {
          "value": -1.3961,
          "low": -1.6901,
          "high": -1.1021,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "smoothness-raise": {
          "value": -1.4081,
          "low": -1.7021,
          "high": -1.1141,
          "unit": "1",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-lean": {
          "value": 0.6774,
          "low": 0.0,
          "high": 3.0294,
          "unit": "deg",
          "basis": "direct",
          "observed": 1.0
        },
        "trunk-turn": {
          "value": null,
          "unit": "deg",
          "why": {
            "code": "wrong-view",
            "text": "this view cannot tell; the picture looks along the wrong direction"
          }
        }
      },
      "findings": [
        {
          "code": "ill-conditioned",
          "measure": "outward-rotation-peak",
          "verdict": "cannot-tell",
          "limit": [
            30.0,
            null
          ],
          "margin": 21.8671,
          "unit": "deg",
          "worst_s": 11.4333,
          "worst_frame": 343,
          "text": "Cannot tell: the interval is too wide for the limit.",
          "cue": "",
          "source": "common practice, no source"
        },
        {
          "code": "wrong-view",
          "measure": "trunk-turn",
          "verdict": "cannot-tell",
          "limit": [
            null,
            20.0
          ],
          "margin": null,
          "unit": "deg",
          "worst_s": null,
          "worst_frame": null,
          "text": "Cannot tell: this view cannot tell; the picture looks along the wrong direction.",
          "cue": "",
          "source": "common practice, no source"
        }
      ]
    }
  ],
  "sets": [
    {
      "number": 1,
      "reps": [
        1,
        2
      ],
      "drift": [
        {
          "measure": "outward-rotation-peak",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.4149,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 21.7693,
              "low": -0.992,
              "high": 44.5306
            },
            {
              "rep": 2,
              "margin": 21.8671,
              "low": -0.1649,
              "high": 43.899
            }
          ],
          "text": "Largest outward rotation: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "peak-elevation",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.0451,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 24.8425,
              "low": 5.6446,
              "high": 44.0404
            },
            {
              "rep": 2,
              "margin": 23.9536,
              "low": 4.4843,
              "high": 43.4229
            }
          ],
          "text": "Highest elevation: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "trunk-turn",
          "reps": 0,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": null,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [],
          "text": "Turn of the trunk: 0 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "trunk-lean",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "deg",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.0201,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 14.1171,
              "low": 11.7651,
              "high": 15.0
            },
            {
              "rep": 2,
              "margin": 14.3226,
              "low": 11.9706,
              "high": 15.0
            }
          ],
          "text": "Lean of the trunk: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "raise-time",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "s",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.2331,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 0.5667,
              "low": 0.4024,
              "high": 0.731
            },
            {
              "rep": 2,
              "margin": 0.5333,
              "low": 0.3679,
              "high": 0.6987
            }
          ],
          "text": "Time of the way out: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        },
        {
          "measure": "lower-time",
          "reps": 2,
          "slope_per_rep": null,
          "low": null,
          "high": null,
          "unit": "s",
          "p": null,
          "p_adjusted": null,
          "change": null,
          "least_change": 0.2331,
          "toward": "not-claimed",
          "first_outside_rep": null,
          "crosses_at_rep": null,
          "intercept": null,
          "margins": [
            {
              "rep": 1,
              "margin": 0.7333,
              "low": 0.569,
              "high": 0.8976
            },
            {
              "rep": 2,
              "margin": 0.8,
              "low": 0.6346,
              "high": 0.9654
            }
          ],
          "text": "Time of the way back: 2 repetitions with a value, too few to speak of a trend (5 are needed)."
        }
      ]
    }
  ],
  "unseen": [
    {
      "measure": "outward-rotation-peak",
      "title": "Largest outward rotation",
      "measurable": 0,
      "of": 2,
      "why": {
        "code": "ill-conditioned",
        "text": "from this view a small error in the picture becomes a large error in the angle"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    },
    {
      "measure": "trunk-turn",
      "title": "Turn of the trunk",
      "measurable": 0,
      "of": 2,
      "why": {
        "code": "wrong-view",
        "text": "this view cannot tell; the picture looks along the wrong direction"
      },
      "remedy": "Stand the phone upright, as high as your chest, about three metres away. Put it straight in front of you. Keep both elbows, the hand that turns and your hips in the picture."
    }
  ],
  "compare": {
    "other_side": null,
    "reference": null
  },
  "cautions": [
    "This measures movement from video. It is no diagnosis and no medical device.",
    "The surgeon''s and the therapist''s protocol comes first; limits are defaults that the treating clinician may change.",
    "Stop on sharp or rising pain, numbness or a new loss of strength, and call the clinic.",
    "Cannot tell is an answer: what the page could not see is listed with the reason."
  ]
}
');
PRAGMA application_id = 0x73636170;
PRAGMA user_version = 1;
COMMIT;
