//! The frame of a saved network: a header, then the sections one after another, each starting at a
//! multiple of eight bytes so that its numbers can be read where they lie.

use bytemuck::{Pod, Zeroable};
use xxhash_rust::xxh3::{xxh3_64, xxh3_64_with_seed};

/// The first byte is above 127 and the last two tell a transfer that changes line ends, as in PNG
/// (RFC 2083, section 3.1). No PBF begins so: its first bytes are a small number, high byte first.
pub const MAGIC: [u8; 8] = *b"\x89TLRD\r\n\x1a";

/// Raised with every change of the frame or of the rows in it.
const FORMAT: u32 = 3;

/// The state of the sources that read roads and work out turns and curves; see build.rs. What they make of the same extract may
/// differ from one state to the next, so a network saved by another state is read anew.
const READER: &str = env!("TANKERLOOP_READER");

const ORDER: u32 = 0x0102_0304;
/// Points, segments, junctions, ways, buildings, and the rest; see `rest`.
pub const OF_NETWORK: usize = 6;
/// What routing adds; see `routing::saved`.
pub const OF_ROUTING: usize = 12;
const SECTIONS: usize = OF_NETWORK + OF_ROUTING;
const ALIGNMENT: usize = 8;

/// All numbers little-endian. The first three fields stay where they are in every format to come.
#[derive(Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct Header {
    magic: [u8; 8],
    order: u32,
    format: u32,
    reader: u64,
    /// Bytes of the whole file.
    length: u64,
    /// Bytes of each section, without the filling behind it.
    sections: [u64; SECTIONS],
    /// XXH3 of all before and after this field.
    checksum: u64,
}

const HEADER: usize = size_of::<Header>();
const BEFORE_CHECKSUM: usize = HEADER - size_of::<u64>();

#[derive(Debug)]
pub struct Sections<'a> {
    pub network: [&'a [u8]; OF_NETWORK],
    pub routing: [&'a [u8]; OF_ROUTING],
}

fn reader() -> u64 {
    // Always a number, as build.rs writes it.
    READER.parse().unwrap_or_default()
}

fn checksum(bytes: &[u8]) -> u64 {
    xxh3_64_with_seed(&bytes[HEADER..], xxh3_64(&bytes[..BEFORE_CHECKSUM]))
}

/// Writes the checksum that fits the bytes into them. Bytes too short for a header stay as they are.
pub fn seal(bytes: &mut [u8]) {
    if bytes.len() >= HEADER {
        let sum = checksum(bytes);
        bytes[BEFORE_CHECKSUM..HEADER].copy_from_slice(&sum.to_le_bytes());
    }
}

/// The whole file.
pub fn assemble(sections: &Sections) -> Result<Vec<u8>, String> {
    let Sections { network, routing } = sections;
    let mut sections: [&[u8]; SECTIONS] = [&[]; SECTIONS];
    sections[..OF_NETWORK].copy_from_slice(network);
    sections[OF_NETWORK..].copy_from_slice(routing);
    if cfg!(target_endian = "big") {
        return Err("networks are saved only on machines that store the low byte first".into());
    }
    let length = sections.iter().fold(HEADER, |at, section| (at + section.len()).next_multiple_of(ALIGNMENT));
    let header = Header {
        magic: MAGIC,
        order: ORDER,
        format: FORMAT,
        reader: reader(),
        length: length as u64,
        sections: sections.map(|section| section.len() as u64),
        checksum: 0,
    };
    let mut bytes = Vec::with_capacity(length);
    bytes.extend_from_slice(bytemuck::bytes_of(&header));
    for section in sections {
        bytes.extend_from_slice(section);
        bytes.resize(bytes.len().next_multiple_of(ALIGNMENT), 0);
    }
    seal(&mut bytes);
    Ok(bytes)
}

/// Takes the file apart, or says why it cannot be used. Age is told before damage: a file of another
/// format is whole in its own way.
pub fn sections(bytes: &[u8]) -> Result<Sections<'_>, String> {
    let truncated = |of: u64| format!("the saved network is truncated, {} of {of} bytes", bytes.len());
    let head = bytes.get(..HEADER).ok_or_else(|| truncated(HEADER as u64))?;
    let header: Header = bytemuck::pod_read_unaligned(head);
    if header.order != ORDER {
        return Err("the saved network is from a machine of the other byte order".into());
    }
    if header.format != FORMAT {
        return Err(format!(
            "the network was saved in format {}, this tankerloop reads format {FORMAT}",
            header.format
        ));
    }
    if header.reader != reader() {
        return Err("the network was saved by another version of tankerloop, which reads maps \
                    differently"
            .into());
    }
    match (bytes.len() as u64).cmp(&header.length) {
        std::cmp::Ordering::Less => return Err(truncated(header.length)),
        std::cmp::Ordering::Greater => {
            return Err(format!(
                "the saved network is damaged, {} bytes instead of {}",
                bytes.len(),
                header.length
            ));
        }
        std::cmp::Ordering::Equal => {}
    }
    if header.checksum != checksum(bytes) {
        return Err("the saved network is damaged, its checksum does not fit".into());
    }
    let mut rest = &bytes[HEADER..];
    let mut sections = Sections { network: [&[]; OF_NETWORK], routing: [&[]; OF_ROUTING] };
    let all = sections.network.iter_mut().chain(&mut sections.routing);
    for (section, length) in all.zip(header.sections) {
        let filled = length.checked_next_multiple_of(ALIGNMENT as u64);
        let cut = filled.and_then(|filled| rest.split_at_checked(usize::try_from(filled).ok()?));
        let Some((own, after)) = cut else {
            return Err("the saved network is damaged, a section reaches past its end".into());
        };
        // No longer than `own`, so it fits.
        (*section, rest) = (&own[..length as usize], after);
    }
    Ok(sections)
}
