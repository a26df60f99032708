//! What each uncertain number makes of elevation and upward rotation together.
//!
//! A rhythm is a slope of one signal on another, so what counts of a constant error is how it pulls both along the
//! movement, with its sign: an error that shifts a whole curve does nothing, one that grows with the arm does much. The
//! standard deviations of a [`Series`](super::Series) do not tell that. In: nudged poses at some frames. Out: by number,
//! how far one standard deviation up and one down pull both signals at any frame.

use super::angles::Angles;
use super::series::around;
use super::signal::Signal;
use std::collections::BTreeMap;

/// How far both signals are pulled, degrees.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Pull {
    /// Elevation.
    pub elevation_deg: f64,
    /// Upward rotation of the blade.
    pub rotation_deg: f64,
}

impl Pull {
    /// From two postures; `None` where either signal is missing.
    pub(super) fn between(from: &Angles, to: &Angles) -> Option<Pull> {
        let change = |signal: Signal| Some(to[signal.index()]? - from[signal.index()]?);
        Some(Pull {
            elevation_deg: change(Signal::Elevation)?,
            rotation_deg: change(Signal::UpwardRotation)?,
        })
    }

    pub(super) fn scaled(self, share: f64) -> Pull {
        Pull {
            elevation_deg: self.elevation_deg * share,
            rotation_deg: self.rotation_deg * share,
        }
    }

    fn toward(self, other: Pull, share: f64) -> Pull {
        let mix = |a: f64, b: f64| a + (b - a) * share;
        Pull {
            elevation_deg: mix(self.elevation_deg, other.elevation_deg),
            rotation_deg: mix(self.rotation_deg, other.rotation_deg),
        }
    }
}

/// Pulls of one number at one frame: one standard deviation up, and one down.
pub type Both = [Pull; 2];

/// Pulls of one frame by the number's place in the list of nudges.
pub type FramePulls = BTreeMap<usize, Both>;

/// Pulls of a clip at sampled frames.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Pulls {
    samples: Vec<(usize, FramePulls)>,
}

impl Pulls {
    /// From samples in the order of their frames.
    pub(super) fn new(samples: Vec<(usize, FramePulls)>) -> Pulls {
        Pulls { samples }
    }

    /// Pulls of every number at a frame: between two samples in proportion, before the first and after the last as
    /// there. Empty where nothing was sampled.
    pub fn at(&self, frame: usize) -> FramePulls {
        let Some(((_, from), (_, to), share)) = around(&self.samples, frame, |(at, _)| *at) else {
            return FramePulls::new();
        };
        from.iter()
            .filter_map(|(number, [up, down])| {
                let [up_to, down_to] = to.get(number)?;
                let both = [up.toward(*up_to, share), down.toward(*down_to, share)];
                Some((*number, both))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pulled(rotation_deg: f64) -> FramePulls {
        let up = Pull {
            elevation_deg: 1.0,
            rotation_deg,
        };
        let down = Pull {
            elevation_deg: -1.0,
            rotation_deg: -rotation_deg,
        };
        FramePulls::from([(7, [up, down])])
    }

    #[test]
    fn pulls_go_evenly_from_sample_to_sample() {
        let pulls = Pulls::new(vec![(10, pulled(2.0)), (20, pulled(6.0))]);
        let up = |frame: usize| pulls.at(frame)[&7][0].rotation_deg;
        assert_eq!(
            [up(0), up(10), up(15), up(20), up(99)],
            [2.0, 2.0, 4.0, 6.0, 6.0]
        );
        assert!(Pulls::default().at(3).is_empty());
    }
}
