//! Frame numbers of listed images: a frame is one whether or not anybody was found in it.
//!
//! In: the ids of images with the numbers of their frames, in any order. Out: the number of an image's frame, and the frames
//! themselves, made in a clip in the order in which people come, so that those of a long one need not stay in memory.

use super::clip::Clip;
use super::limits;
use crate::note::{Fault, Place};
use std::iter::Peekable;
use std::vec;

/// Frame numbers of images.
pub(super) struct ImageFrames {
    /// By the image's id, in order.
    of_image: Vec<(i64, i64)>,
    /// Where the last one was found.
    last: usize,
    /// Those that are not in the clip yet, in order.
    numbers: Peekable<vec::IntoIter<i64>>,
}

impl ImageFrames {
    /// Those of images, each an id and a number. Of two images of one id the later counts, but both are frames.
    ///
    /// # Errors
    /// More frames than the limit.
    pub(super) fn of(mut images: Vec<(i64, i64)>, place: &Place) -> Result<ImageFrames, Fault> {
        let mut numbers: Vec<i64> = images.iter().map(|(_, number)| *number).collect();
        numbers.sort_unstable();
        numbers.dedup();
        if numbers.len() > limits::FRAMES {
            return Err(limits::frames(place.clone()));
        }
        images.reverse();
        images.sort_by_key(|(id, _)| *id);
        images.dedup_by_key(|(id, _)| *id);
        Ok(ImageFrames {
            of_image: images,
            last: 0,
            numbers: numbers.into_iter().peekable(),
        })
    }

    /// The frame of an image; one that is not listed has the number of its frame as its id.
    pub(super) fn number(&mut self, image: i64) -> i64 {
        let is_it = |at: &usize| self.of_image.get(*at).is_some_and(|(id, _)| *id == image);
        let near = [self.last, self.last + 1].into_iter().find(is_it);
        let found = near.or_else(|| {
            let found = self.of_image.binary_search_by_key(&image, |(id, _)| *id);
            found.ok()
        });
        match found.and_then(|at| Some((at, self.of_image.get(at)?.1))) {
            Some((at, number)) => {
                self.last = at;
                number
            }
            None => image,
        }
    }

    /// Makes the frames up to a number; so frames come in order where people do.
    ///
    /// # Errors
    /// More frames than the limit.
    pub(super) fn make_to(
        &mut self,
        number: i64,
        clip: &mut Clip<'_>,
        place: &Place,
    ) -> Result<(), Fault> {
        while let Some(number) = self.numbers.next_if(|next| *next <= number) {
            clip.frame(number, place)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_images_than_a_clip_has_frames_are_refused() {
        let images = |count: usize| (0..count as i64).map(|id| (id, id)).collect();
        let place = Place::file("f");
        assert!(ImageFrames::of(images(limits::FRAMES), &place).is_ok());
        let fault = ImageFrames::of(images(limits::FRAMES + 1), &place).err();
        assert_eq!(fault.map(|fault| fault.code), Some("read/limit"));
    }
}
