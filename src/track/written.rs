//! Frames as bytes, for a file that only this program reads again in the same run.

use super::recording::{Detection, RecordingFrame};

/// Stands for an id that is none.
const NO_ID: u32 = u32::MAX;

/// Frames as bytes.
pub fn write(frames: &[RecordingFrame]) -> Vec<u8> {
    let mut out = Vec::new();
    for frame in frames {
        out.extend(frame.number.to_ne_bytes());
        out.push(u8::from(frame.stamp_s.is_some()));
        out.extend(frame.stamp_s.unwrap_or_default().to_ne_bytes());
        count(&mut out, frame.people.len());
        for one in &frame.people {
            match &one.id {
                None => out.extend(NO_ID.to_ne_bytes()),
                Some(id) => {
                    count(&mut out, id.len());
                    out.extend_from_slice(id.as_bytes());
                }
            }
            points(&mut out, &one.picture);
            points(&mut out, &one.space);
        }
    }
    out
}

fn count(out: &mut Vec<u8>, number: usize) {
    let number = u32::try_from(number).unwrap_or(NO_ID - 1);
    out.extend(number.to_ne_bytes());
}

fn points<const N: usize>(out: &mut Vec<u8>, points: &[[f32; N]]) {
    count(out, points.len());
    out.extend_from_slice(bytemuck::cast_slice(points.as_flattened()));
}

/// Reads the frames that were written, into the place of others: lists that are there are used again.
pub fn read(bytes: &[u8], frames: &mut Vec<RecordingFrame>) {
    let mut left = Left(bytes);
    let mut count = 0;
    while !left.0.is_empty() {
        if frames.len() == count {
            frames.push(RecordingFrame::default());
        }
        if let Some(frame) = frames.get_mut(count) {
            left.frame(frame);
        }
        count += 1;
    }
    frames.truncate(count);
}

/// Bytes that are not read yet.
struct Left<'a>(&'a [u8]);

impl<'a> Left<'a> {
    fn bytes(&mut self, length: usize) -> &'a [u8] {
        let (first, rest) = self.0.split_at(length.min(self.0.len()));
        self.0 = rest;
        first
    }

    fn array<const N: usize>(&mut self) -> [u8; N] {
        self.bytes(N).try_into().unwrap_or([0; N])
    }

    fn count(&mut self) -> u32 {
        u32::from_ne_bytes(self.array())
    }

    fn frame(&mut self, frame: &mut RecordingFrame) {
        frame.number = i64::from_ne_bytes(self.array());
        let [stamped] = self.array();
        let stamp_s = f64::from_ne_bytes(self.array());
        frame.stamp_s = (stamped != 0).then_some(stamp_s);
        let people = self.count() as usize;
        frame.people.resize_with(people, Detection::default);
        frame.people.iter_mut().for_each(|one| self.person(one));
    }

    fn person(&mut self, one: &mut Detection) {
        one.id = match self.count() {
            NO_ID => None,
            length => Some(String::from_utf8_lossy(self.bytes(length as usize)).into_owned()),
        };
        self.points(&mut one.picture);
        self.points(&mut one.space);
    }

    fn points<const N: usize>(&mut self, points: &mut Vec<[f32; N]>) {
        points.resize(self.count() as usize, [0.0; N]);
        let into: &mut [u8] = bytemuck::cast_slice_mut(points.as_flattened_mut());
        let length = into.len();
        into.copy_from_slice(self.bytes(length));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_come_back_as_they_were() {
        let nobody = RecordingFrame {
            number: -3,
            ..RecordingFrame::default()
        };
        let two = RecordingFrame {
            number: i64::MAX,
            stamp_s: Some(0.25),
            people: vec![
                Detection {
                    id: Some("Jürgen".into()),
                    picture: vec![[1.0, 2.0, f32::INFINITY], [3.0, -4.0, 0.5]],
                    space: Vec::new(),
                },
                Detection {
                    id: Some(String::new()),
                    picture: Vec::new(),
                    space: vec![[1e-30, 2.0, 3.0, 0.0]],
                },
                Detection::default(),
            ],
        };
        let mut back = Vec::new();
        for frames in [
            vec![two.clone(), nobody.clone()],
            vec![nobody, two.clone(), two],
            Vec::new(),
        ] {
            read(&write(&frames), &mut back);
            assert_eq!(back, frames, "whatever was there before");
        }
    }
}
