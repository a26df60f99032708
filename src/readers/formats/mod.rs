//! One file for each format. A new one is a file here and a line in [`super::READERS`].

pub mod alphapose_json;
pub mod c3d;
pub mod coco_json;
pub mod deeplabcut_csv;
pub mod hdf5;
pub mod kinect_json;
pub mod landmarks33_csv;
pub mod landmarks33_json;
pub mod mmpose_json;
mod movenet_dump;
pub mod movenet_json;
mod movenet_node;
pub mod native_json;
pub mod npy;
pub mod openpose;
pub mod sleap_csv;
pub mod sleap_json;
pub mod tidy_csv;
pub mod trc;
pub mod yolo_json;
pub mod yolo_labels;
mod yolo_line;
