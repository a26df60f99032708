//! One file for each format. A new one is a file here and a line in [`super::READERS`].

pub mod coco_json;
pub mod deeplabcut_csv;
pub mod kinect_json;
pub mod landmarks33_csv;
pub mod landmarks33_json;
pub mod native_json;
pub mod openpose;
pub mod sleap_csv;
pub mod sleap_json;
pub mod tidy_csv;
pub mod trc;
