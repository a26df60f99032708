//! One file for each format. A new one is a file here and a line in [`super::READERS`].

pub mod c3d;
pub mod coco_json;
pub mod hdf5;
pub mod landmarks33_csv;
pub mod landmarks33_json;
pub mod native_json;
pub mod npy;
pub mod openpose;
pub mod tidy_csv;
pub mod trc;
