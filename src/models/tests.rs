//! Every shipped file loads; a broken copy of each kind is refused with its place.

use super::*;

fn shipped() -> Models {
    match Models::embedded() {
        Ok(models) => models,
        Err(errors) => panic!("{errors}"),
    }
}

#[test]
fn everything_shipped_loads() {
    let models = shipped();
    assert_eq!(models.exercises.len(), 10);
    assert_eq!(models.skeletons.len(), 13);
}
