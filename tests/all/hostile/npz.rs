//! NumPy's archives of arrays open as the one array that is the pose.

use super::packed::zip;
use scaplane::readers::Source;

/// An array of zeros as NumPy stores it: magic, version, length of the header, header, data.
fn array(shape: &str, numbers: usize) -> Vec<u8> {
    let mut header = format!("{{'descr': '<f4', 'fortran_order': False, 'shape': {shape}, }}");
    while (10 + header.len() + 1) % 64 != 0 {
        header.push(' ');
    }
    header.push('\n');
    let length = u16::try_from(header.len())
        .expect("a short header")
        .to_le_bytes();
    let data = vec![0; 4 * numbers];
    [&b"\x93NUMPY\x01\x00"[..], &length, header.as_bytes(), &data].concat()
}

fn member(arrays: &[(&str, &str, usize)]) -> Result<String, String> {
    let files = arrays
        .iter()
        .map(|(name, shape, numbers)| ((*name).to_string(), array(shape, *numbers)))
        .collect();
    let inside = Source::from_bytes("a.npz", zip(&files)).unpacked();
    let source = inside
        .map_err(|fault| fault.code.to_string())?
        .expect("an archive");
    Ok(source.single().expect("one array").name().to_string())
}

#[test]
fn the_array_of_poses_is_the_file() {
    let pose = ("S.npy", "(12, 17, 3)", 12 * 17 * 3);
    let times = ("t.npy", "(12,)", 12);
    assert_eq!(member(&[pose]).as_deref(), Ok("S.npy"));
    assert_eq!(member(&[times, pose]).as_deref(), Ok("S.npy"));
    assert_eq!(
        member(&[times, ("a.npy", "(3, 3)", 9)]).as_deref(),
        Ok("t.npy")
    );
    let other = ("P.npy", "(12, 17, 2)", 12 * 17 * 2);
    assert_eq!(member(&[pose, other]).unwrap_err(), "read/archive");
}
