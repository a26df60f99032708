//! HDF5 files of two estimators of user-named points: SLEAP analysis files and DeepLabCut tables.
//!
//! Which of the two it is lies inside, and so is told when the file is read. Points have names; there is no rate
//! and no size of the picture. A project file of SLEAP is refused in words.

use crate::models::Models;
use crate::note::{Fault, FaultKind};
use crate::readers::hdf5_file::File;
use crate::readers::probe::Shape;
use crate::readers::sketch::listed;
use crate::readers::{
    BinaryKind, Fit, Probe, ReadOptions, Reader, Source, pandas_table, sleap_tracks,
};
use crate::track::Recording;
use hdf5_reader::group::Group;

/// The reader.
pub struct Hdf5;

impl Reader for Hdf5 {
    fn id(&self) -> &'static str {
        "hdf5"
    }

    fn title(&self) -> &'static str {
        "HDF5 of SLEAP or DeepLabCut"
    }

    fn about(&self) -> &'static str {
        "Reads SLEAP analysis files (tracks, node_names, point_scores) and DeepLabCut tables (both forms that \
         pandas stores, one or several individuals, x and y or x, y and z). Points are told by name. Such \
         files have no rate: state --fps. A likelihood below 0.6 counts as not seen. SLEAP projects (.slp) \
         and tables packed with Blosc are not read: export an analysis file or CSV."
    }

    fn fit(&self, probe: &Probe, _models: &Models) -> Fit {
        match probe.shape {
            Shape::Binary(BinaryKind::Hdf5, _) => Fit::certain("it begins as an HDF5 file"),
            _ => Fit::no("it does not begin as an HDF5 file"),
        }
    }

    fn read(
        &self,
        source: &Source,
        options: &ReadOptions,
        models: &Models,
    ) -> Result<Recording, Fault> {
        let file = File::open(source.single()?)?;
        let root = file.root()?;
        let (groups, datasets) = file.told(root.member_names())?;
        let has = |name: &str| datasets.iter().any(|known| known == name);
        if has("tracks") && has("node_names") {
            return sleap_tracks::read(self.id(), &file, &root, options, models);
        }
        let mut tables: Vec<Group> = Vec::new();
        for name in &groups {
            let group = file.told(root.group(name))?;
            if pandas_table::is_table(&file, &group)? {
                tables.push(group);
            }
        }
        match tables.as_slice() {
            [only] => pandas_table::read(self.id(), &file, only, options, models),
            [] => {
                let all: Vec<String> = groups.iter().chain(&datasets).cloned().collect();
                let project = has("frames") && has("instances");
                Err(Fault::new(
                    FaultKind::Unsupported,
                    "read/unknown-format",
                    match project {
                        true => {
                            "this is a SLEAP project, which holds labels and not tracks".to_string()
                        }
                        false => format!(
                            "the HDF5 file holds {}, neither SLEAP tracks nor a table of DeepLabCut",
                            if all.is_empty() {
                                "nothing".to_string()
                            } else {
                                listed(&all)
                            }
                        ),
                    },
                    file.place(),
                    "exporting a SLEAP analysis file, or the keypoints as CSV",
                ))
            }
            several => Err(Fault::new(
                FaultKind::Unsupported,
                "read/ambiguous-format",
                format!("the HDF5 file holds {} tables", several.len()),
                file.place(),
                "exporting one table as CSV",
            )),
        }
    }
}
