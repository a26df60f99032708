//! `failures.csv`: one row for each clip that could not be done.

use super::super::clip::Clip;
use super::{Cell, Column, Kind, Spec, columns_of};
use crate::note::Fault;

const OWN: &Spec = &[
    (
        "clip_number",
        Kind::Whole,
        true,
        "number of the clip in the whole list, from 1",
    ),
    ("clip", Kind::Text, true, "path of the clip as listed"),
    (
        "code",
        Kind::Text,
        true,
        "code of the error; see `scaplane explain`",
    ),
    (
        "place",
        Kind::Text,
        false,
        "file, line, field and frame, as far as they are known",
    ),
    ("what", Kind::Text, true, "what is wrong"),
    ("remedy", Kind::Text, true, "what to do about it"),
];

pub(super) fn columns() -> Vec<Column> {
    columns_of(OWN)
}

pub(super) fn row(clip: &Clip, fault: &Fault) -> Vec<Cell> {
    let place = Some(fault.place.to_string()).filter(|place| !place.is_empty());
    vec![
        clip.number.into(),
        (&clip.shown).into(),
        fault.code.into(),
        place.as_ref().into(),
        (&fault.what).into(),
        (&fault.remedy).into(),
    ]
}
