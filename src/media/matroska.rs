//! Raw pictures with their times as a Matroska stream (RFC 9559), for a pipe to `ffmpeg`: the plainest form in which a
//! picture carries its own time, so that a varying rate stays as it was.

/// Nanoseconds of a tick.
const TICK_NS: u64 = 10_000;
/// The length of what ends with the stream.
const UNKNOWN: [u8; 8] = [0x01, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff];

/// What comes before the first picture; pixels are planar YUV 4:2:0.
pub(super) fn head(width: u32, height: u32) -> Vec<u8> {
    let about = [
        element(&[0x42, 0x82], b"matroska"),
        number(&[0x42, 0x87], 4),
        number(&[0x42, 0x85], 2),
    ];
    let by: &[u8] = b"scaplane";
    let info = [
        number(&[0x2a, 0xd7, 0xb1], TICK_NS),
        element(&[0x4d, 0x80], by),
        element(&[0x57, 0x41], by),
    ];
    let picture = [
        number(&[0xb0], u64::from(width)),
        number(&[0xba], u64::from(height)),
        element(&[0x2e, 0xb5, 0x24], b"I420"),
    ];
    let track = [
        number(&[0xd7], 1),
        number(&[0x73, 0xc5], 1),
        number(&[0x83], 1),
        element(&[0x86], b"V_UNCOMPRESSED"),
        element(&[0xe0], &picture.concat()),
    ];
    [
        element(&[0x1a, 0x45, 0xdf, 0xa3], &about.concat()),
        [&[0x18, 0x53, 0x80, 0x67][..], &UNKNOWN[..]].concat(),
        element(&[0x15, 0x49, 0xa9, 0x66], &info.concat()),
        element(
            &[0x16, 0x54, 0xae, 0x6b],
            &element(&[0xae], &track.concat()),
        ),
    ]
    .concat()
}

/// What comes before the bytes of a picture.
pub(super) fn before_picture(time_s: f64, bytes: usize) -> Vec<u8> {
    let tick = (time_s * 1e9 / TICK_NS as f64).round().max(0.0) as u64;
    let time = number(&[0xe7], tick);
    // Track 1, no time beside the cluster's, a key picture.
    let block = [0x81, 0x00, 0x00, 0x80];
    let block_head = start(&[0xa3], block.len() + bytes);
    let inside = time.len() + block_head.len() + block.len() + bytes;
    [
        start(&[0x1f, 0x43, 0xb6, 0x75], inside),
        time,
        block_head,
        block.to_vec(),
    ]
    .concat()
}

fn start(id: &[u8], length: usize) -> Vec<u8> {
    let length = (1 << 56 | length as u64).to_be_bytes();
    [id, &length[..]].concat()
}

fn element(id: &[u8], content: &[u8]) -> Vec<u8> {
    [start(id, content.len()), content.to_vec()].concat()
}

fn number(id: &[u8], value: u64) -> Vec<u8> {
    element(id, &value.to_be_bytes())
}
