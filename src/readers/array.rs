//! NumPy arrays: from bytes to rows of numbers.
//!
//! In: the bytes of one array (`.npy`), from wherever they come. Out: its shape, and its numbers row by row of
//! the first axis. What the numbers mean is not known here. The head is looked over before it is parsed,
//! since nested brackets and huge counts would cost memory before the first number is read.

use super::limits;
use super::source::io_fault;
use crate::note::{Fault, FaultKind, Place};
use npyz::{NpyFile, NpyHeader, Order};
use std::io::{self, Read};

/// Most bytes of the head: what NumPy itself reads unless told otherwise (`max_header_size` of `numpy.load`).
const HEAD: usize = 10_000;

/// Deepest nesting of brackets in the head: a shape in a dictionary needs 2, a record with arrays 4.
const DEPTH: usize = 6;

/// Most numbers of an array stored with its first axis fastest: all of them are held until the last one is
/// read. An hour at 60 frames a second of 33 points with four numbers has 29 million.
const HELD: u64 = 64 << 20;

/// One array, of which the head has been read.
pub struct Array<'a> {
    header: NpyHeader,
    bytes: Box<dyn Read + 'a>,
    place: Place,
}

/// Numbers in the order of the file.
type Numbers<'a> = Box<dyn Iterator<Item = io::Result<f32>> + 'a>;

impl<'a> Array<'a> {
    /// Reads the head.
    ///
    /// # Errors
    /// No array, a head that is cut off, or one that is not as NumPy writes it.
    pub fn open(mut bytes: Box<dyn Read + 'a>, place: Place) -> Result<Array<'a>, Fault> {
        let mut head = Vec::new();
        let mut wanted = |count: usize, head: &mut Vec<u8>| {
            let read = (&mut bytes).take(count as u64).read_to_end(head);
            match read {
                Ok(read) if read == count => Ok(()),
                Ok(_) => Err(broken(&place, "the array ends within its head")),
                Err(error) => Err(io_fault(place.clone(), &error)),
            }
        };
        // Magic, two version bytes, then the length of the text in 2 bytes (version 1) or 4 (numpy.lib.format).
        wanted(10, &mut head)?;
        if head.get(6) != Some(&1) {
            wanted(2, &mut head)?;
        }
        let length = match *head.as_slice() {
            [0x93, b'N', b'U', b'M', b'P', b'Y', 1, _, a, b] => {
                u64::from(u16::from_le_bytes([a, b]))
            }
            [0x93, b'N', b'U', b'M', b'P', b'Y', _, _, a, b, c, d] => {
                u64::from(u32::from_le_bytes([a, b, c, d]))
            }
            _ => return Err(broken(&place, "a NumPy array begins otherwise")),
        };
        let fits = usize::try_from(length)
            .ok()
            .filter(|length| *length <= HEAD);
        let Some(length) = fits else {
            return Err(broken(
                &place,
                format!("the head says that it is {length} bytes long, more than {HEAD}"),
            ));
        };
        let text = head.len();
        wanted(length, &mut head)?;
        look_over(head.get(text..).unwrap_or_default()).map_err(|what| broken(&place, what))?;
        let header = NpyHeader::from_reader(head.as_slice())
            .map_err(|error| broken(&place, format!("the head cannot be understood ({error})")))?;
        Ok(Array {
            header,
            bytes,
            place,
        })
    }

    /// Length of each axis.
    pub fn shape(&self) -> &[u64] {
        self.header.shape()
    }

    /// Gives each row of the first axis, with the last axis fastest whatever the order of the file. The three axes
    /// are those of the array without the ones of length 1.
    ///
    /// # Errors
    /// The array ends too early, is of another kind of number, is too long to be held, or what `each` says.
    pub fn rows(
        self,
        [rows, points, numbers]: [usize; 3],
        each: &mut dyn FnMut(&[f32]) -> Result<(), Fault>,
    ) -> Result<(), Fault> {
        let by_rows = self.header.order() == Order::C;
        let width = points * numbers;
        let total = rows as u64 * width as u64;
        let place = self.place.clone();
        if !by_rows && total > HELD {
            return Err(Fault::new(
                FaultKind::Limit,
                "read/limit",
                format!(
                    "{total} numbers lie with the first axis fastest; at most {HELD} are read so"
                ),
                place,
                "saving numpy.ascontiguousarray(array)",
            ));
        }
        let mut values = self.numbers()?;
        let mut read = 0_u64;
        let mut next = || match values.next() {
            Some(Ok(number)) => {
                read += 1;
                Ok(number)
            }
            Some(Err(error)) if error.kind() != io::ErrorKind::UnexpectedEof => {
                Err(io_fault(place.clone(), &error))
            }
            _ => Err(Fault::new(
                FaultKind::Malformed,
                "read/length",
                format!("the array ends after {read} of the {total} numbers that its head states"),
                place.clone(),
                "copying the file again",
            )),
        };
        let mut row = Vec::with_capacity(width.min(4 * limits::KEYPOINTS));
        if by_rows {
            for _ in 0..rows {
                row.clear();
                for _ in 0..width {
                    row.push(next()?);
                }
                each(&row)?;
            }
            return Ok(());
        }
        // Grows with what is there: the head alone reserves nothing.
        let mut all = Vec::new();
        for _ in 0..total {
            all.push(next()?);
        }
        for first in 0..rows {
            row.clear();
            row.extend((0..width).map(|at| {
                let (point, number) = (at / numbers, at % numbers);
                let place = first + rows * (point + points * number);
                all.get(place).copied().unwrap_or(f32::NAN)
            }));
            each(&row)?;
        }
        Ok(())
    }

    fn numbers(self) -> Result<Numbers<'a>, Fault> {
        let kind = self.header.dtype().descr();
        let file = NpyFile::with_header(self.header, self.bytes);
        let file = match file.try_data::<f32>() {
            Ok(data) => return Ok(Box::new(data)),
            Err(file) => file,
        };
        let file = match file.try_data::<f64>() {
            Ok(data) => return Ok(Box::new(data.map(|number| number.map(|n| n as f32)))),
            Err(file) => file,
        };
        let file = match file.try_data::<i32>() {
            Ok(data) => return Ok(Box::new(data.map(|number| number.map(|n| n as f32)))),
            Err(file) => file,
        };
        match file.try_data::<i64>() {
            Ok(data) => Ok(Box::new(data.map(|number| number.map(|n| n as f32)))),
            Err(_) => Err(Fault::new(
                FaultKind::Unsupported,
                "read/layout",
                format!(
                    "the array holds {}, not numbers such as '<f4' or '<f8'",
                    kind.chars().take(60).collect::<String>()
                ),
                self.place,
                "saving the keypoints alone, as array.astype(\"float32\")",
            )),
        }
    }
}

fn broken(place: &Place, what: impl Into<String>) -> Fault {
    Fault::new(
        FaultKind::Malformed,
        "read/syntax",
        what,
        place.clone(),
        "saving the array again with numpy.save",
    )
}

/// Whether the text of a head is plain enough to be parsed: brackets not too deep, whole numbers in digits, and
/// no more numbers than a file may have bytes.
fn look_over(text: &[u8]) -> Result<(), String> {
    let odd = || "the head is not as NumPy writes it".to_string();
    let (mut depth, mut quote, mut before) = (0_usize, None, b' ');
    let (mut number, mut product) = (None::<u64>, 1_u64);
    if text.contains(&b'\\') || text.windows(3).any(|w| w == b"'''" || w == b"\"\"\"") {
        return Err(odd());
    }
    for &byte in text.iter().chain(b" ") {
        match (quote, byte) {
            (Some(open), _) if byte == open => quote = None,
            (Some(_), _) => {}
            (None, b'\'' | b'"') => quote = Some(byte),
            (None, b'(' | b'[' | b'{') => depth += 1,
            (None, b')' | b']' | b'}') => depth = depth.saturating_sub(1),
            (None, b'0'..=b'9') if before.is_ascii_alphabetic() => return Err(odd()),
            (None, b'a'..=b'z' | b'A'..=b'Z' | b'_') if before.is_ascii_digit() => {
                return Err(odd());
            }
            (None, b'_') => return Err(odd()),
            _ => {}
        }
        if depth > DEPTH {
            return Err("the head is nested too deeply".to_string());
        }
        number = match (quote, byte) {
            (None, b'0'..=b'9') => Some(
                number
                    .unwrap_or(0)
                    .saturating_mul(10)
                    .saturating_add(u64::from(byte - b'0')),
            ),
            _ => {
                // An axis of length 0 must not hide the length of the others.
                product = product.saturating_mul(number.unwrap_or(1).max(1));
                None
            }
        };
        before = byte;
    }
    match product <= limits::BYTES {
        true => Ok(()),
        false => Err(format!(
            "the head states more numbers than the {} bytes that are read",
            limits::BYTES
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn npy(head: &str, data: &[f32]) -> Vec<u8> {
        let mut bytes = b"\x93NUMPY\x01\x00".to_vec();
        bytes.extend((head.len() as u16).to_le_bytes());
        bytes.extend(head.as_bytes());
        bytes.extend(data.iter().flat_map(|number| number.to_le_bytes()));
        bytes
    }

    fn rows(bytes: &[u8], axes: [usize; 3]) -> Result<Vec<Vec<f32>>, Fault> {
        let array = Array::open(Box::new(bytes), Place::file("a"))?;
        let mut all = Vec::new();
        array.rows(axes, &mut |row| {
            all.push(row.to_vec());
            Ok(())
        })?;
        Ok(all)
    }

    #[test]
    fn both_orders_give_the_same_rows() {
        let c = npy(
            "{'descr': '<f4', 'fortran_order': False, 'shape': (2, 3, 2)}\n",
            &[
                1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0,
            ],
        );
        let fortran = npy(
            "{'descr': '<f4', 'fortran_order': True, 'shape': (2, 3, 2)}\n",
            &[
                1.0, 7.0, 3.0, 9.0, 5.0, 11.0, 2.0, 8.0, 4.0, 10.0, 6.0, 12.0,
            ],
        );
        let expected = [
            [1.0, 2.0, 3.0, 4.0, 5.0, 6.0],
            [7.0, 8.0, 9.0, 10.0, 11.0, 12.0],
        ];
        assert_eq!(rows(&c, [2, 3, 2]).unwrap(), expected);
        assert_eq!(rows(&fortran, [2, 3, 2]).unwrap(), expected);
        let fault = rows(&c[..c.len() - 1], [2, 3, 2]).unwrap_err();
        assert_eq!(fault.code, "read/length");
        assert!(fault.what.contains("11 of the 12"), "{}", fault.what);
    }

    #[test]
    fn heads_that_would_cost_memory_are_refused() {
        let deep = format!("{}{}", "(".repeat(5000), ")".repeat(4000));
        for head in [
            deep.as_str(),
            "{'descr': '<f4', 'fortran_order': False, 'shape': (9999999999, 9999999999, 9999999999)}",
            "{'descr': '<f4', 'fortran_order': False, 'shape': (0, 9999999999, 9999999999)}",
            "{'descr': '<f4', 'fortran_order': False, 'shape': (0xffffffff, 0xffffffff, 0xffffffff)}",
            "{'descr': '<f4', 'fortran_order': False, 'shape': (9_999_999, 9_999_999, 9_999_999)}",
            "{'descr': '''<f'4''', 'fortran_order': False, 'shape': (9999999999, 9999999999, 2)}",
            "{'descr': '\\'<f4', 'fortran_order': False, 'shape': (9999999999, 9999999999, 2)}",
            "{'descr': '<f4', 'shape': (2, 3)}",
            "shape",
        ] {
            let fault = rows(&npy(head, &[]), [2, 3, 2]).unwrap_err();
            assert_eq!(fault.code, "read/syntax", "{head}");
        }
        let mut long = npy("", &[]);
        long[6] = 2;
        long.extend(u32::MAX.to_le_bytes());
        assert_eq!(rows(&long, [2, 3, 2]).unwrap_err().code, "read/syntax");
    }
}
