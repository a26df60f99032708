//! The body points the simulation knows, with the ids the exports use.
//!
//! `left` and `right` are always the person's own sides.

use std::ops::{Index, IndexMut};

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

/// The person's own left or right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The person's left.
    Left,
    /// The person's right.
    Right,
}

impl Side {
    /// Both sides, left first.
    pub const BOTH: [Side; 2] = [Side::Left, Side::Right];

    /// The opposite side.
    pub fn other(self) -> Self {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }

    /// The sign of the side along the trunk's Z axis (right positive).
    pub(super) fn sign(self) -> f64 {
        match self {
            Side::Left => -1.0,
            Side::Right => 1.0,
        }
    }
}

macro_rules! points {
    (middle { $($mid:ident = $mid_id:literal),* $(,)? } paired { $($l:ident / $r:ident = $lid:literal / $rid:literal),* $(,)? }) => {
        /// A point of the body.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[repr(usize)]
        pub enum Point {
            $(#[doc = concat!("`", $mid_id, "`")] $mid,)*
            $(#[doc = concat!("`", $lid, "`")] $l, #[doc = concat!("`", $rid, "`")] $r,)*
        }

        impl Point {
            /// Every point, in storage order.
            pub const ALL: &'static [Point] = &[$(Point::$mid,)* $(Point::$l, Point::$r,)*];

            /// The id written in exports.
            pub fn id(self) -> &'static str {
                match self {
                    $(Point::$mid => $mid_id,)*
                    $(Point::$l => $lid, Point::$r => $rid,)*
                }
            }

            /// The same point of the other side; a midline point is its own.
            pub fn mirrored(self) -> Point {
                match self {
                    $(Point::$mid => Point::$mid,)*
                    $(Point::$l => Point::$r, Point::$r => Point::$l,)*
                }
            }
        }
    };
}

points! {
    middle {
        Nose = "nose", Neck = "neck", MidHip = "mid_hip",
        Ij = "ij", Px = "px", C7 = "c7", T8 = "t8",
    }
    paired {
        LeftEyeInner / RightEyeInner = "left_eye_inner" / "right_eye_inner",
        LeftEye / RightEye = "left_eye" / "right_eye",
        LeftEyeOuter / RightEyeOuter = "left_eye_outer" / "right_eye_outer",
        LeftEar / RightEar = "left_ear" / "right_ear",
        MouthLeft / MouthRight = "mouth_left" / "mouth_right",
        LeftShoulder / RightShoulder = "left_shoulder" / "right_shoulder",
        LeftElbow / RightElbow = "left_elbow" / "right_elbow",
        LeftWrist / RightWrist = "left_wrist" / "right_wrist",
        LeftPinky / RightPinky = "left_pinky" / "right_pinky",
        LeftIndex / RightIndex = "left_index" / "right_index",
        LeftThumb / RightThumb = "left_thumb" / "right_thumb",
        LeftHip / RightHip = "left_hip" / "right_hip",
        LeftKnee / RightKnee = "left_knee" / "right_knee",
        LeftAnkle / RightAnkle = "left_ankle" / "right_ankle",
        LeftHeel / RightHeel = "left_heel" / "right_heel",
        LeftFootIndex / RightFootIndex = "left_foot_index" / "right_foot_index",
        LeftSmallToe / RightSmallToe = "left_small_toe" / "right_small_toe",
        LeftSc / RightSc = "left_sc" / "right_sc",
        LeftAc / RightAc = "left_ac" / "right_ac",
        LeftAa / RightAa = "left_aa" / "right_aa",
        LeftTs / RightTs = "left_ts" / "right_ts",
        LeftAi / RightAi = "left_ai" / "right_ai",
        LeftEl / RightEl = "left_el" / "right_el",
        LeftEm / RightEm = "left_em" / "right_em",
        LeftUs / RightUs = "left_us" / "right_us",
        LeftRs / RightRs = "left_rs" / "right_rs",
    }
}

impl Point {
    /// How many points there are.
    pub const COUNT: usize = Self::ALL.len();

    /// The right-side point `right`, or its left twin.
    pub(super) fn on(self, side: Side) -> Point {
        match side {
            Side::Right => self,
            Side::Left => self.mirrored(),
        }
    }
}

/// One value for every point, read by the point's name.
#[derive(Clone, Debug, PartialEq)]
pub struct PerPoint<T>([T; Point::COUNT]);

impl<T: Copy> PerPoint<T> {
    /// The same value everywhere.
    pub fn filled(value: T) -> Self {
        Self([value; Point::COUNT])
    }

    /// A value made for each point, in storage order.
    pub fn make(mut value: impl FnMut(Point) -> T) -> Self {
        let mut index = 0;
        Self([(); Point::COUNT].map(|()| {
            let point = Point::ALL[index];
            index += 1;
            value(point)
        }))
    }
}

impl<T> Index<Point> for PerPoint<T> {
    type Output = T;
    fn index(&self, point: Point) -> &T {
        &self.0[point as usize]
    }
}

impl<T> IndexMut<Point> for PerPoint<T> {
    fn index_mut(&mut self, point: Point) -> &mut T {
        &mut self.0[point as usize]
    }
}

/// Positions of all points in metres.
pub type Points = PerPoint<Vector3<f64>>;
