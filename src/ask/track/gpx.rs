//! GPX 1.0 and 1.1: tracks if there are any, else routes, else waypoints in their order.
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::model::{Track, position};
use super::times::OddTimes;
use crate::ask::matching::TrackPoint;

/// What is said of a file that was cut off while it was written or copied.
const ENDS_EARLY: &str = "ends in the middle: elements are still open, so the file was cut off; copy it again";

#[derive(Default)]
struct GpxFound {
    tracks: Track,
    routes: Track,
    waypoints: Track,
}

impl GpxFound {
    fn of(&mut self, name: &[u8]) -> Option<&mut Track> {
        match name {
            b"trkpt" | b"trkseg" => Some(&mut self.tracks),
            b"rtept" | b"rte" => Some(&mut self.routes),
            b"wpt" => Some(&mut self.waypoints),
            _ => None,
        }
    }
}

/// Reads GPX.
pub(super) fn read(text: &str) -> Result<Track, String> {
    let mut reader = Reader::from_str(text);
    let mut found = GpxFound::default();
    let (mut is_gpx, mut in_time, mut depth) = (false, false, 0_usize);
    let mut times = OddTimes::default();
    let mut open: Option<(Vec<u8>, TrackPoint)> = None;
    loop {
        let at = reader.buffer_position();
        let wrong = |fact: String| format!("{fact} (GPX, line {})", line(text, at));
        let event = match reader.read_event() {
            Err(quick_xml::Error::Syntax(_)) if reader.buffer_position() >= text.len() as u64 => {
                return Err(wrong(ENDS_EARLY.to_owned()));
            }
            event => event.map_err(|e| wrong(e.to_string()))?,
        };
        depth = match event {
            Event::Start(_) => depth + 1,
            Event::End(_) => depth.saturating_sub(1),
            _ => depth,
        };
        match event {
            // What is missing may be most of the drive.
            Event::Eof if depth > 0 => return Err(wrong(ENDS_EARLY.to_owned())),
            Event::Eof => break,
            Event::Start(tag) => match tag.local_name().as_ref() {
                b"gpx" => is_gpx = true,
                b"trk" => found.tracks.begin_track(),
                b"time" => in_time = open.is_some(),
                name @ (b"trkpt" | b"rtept" | b"wpt") => open = Some((name.to_vec(), point(&tag).map_err(wrong)?)),
                name @ (b"trkseg" | b"rte") => {
                    if let Some(t) = found.of(name) {
                        t.cut();
                    }
                }
                _ => {}
            },
            Event::Empty(tag) => {
                if let Some(track) = found.of(tag.local_name().as_ref())
                    && tag.local_name().as_ref().ends_with(b"pt")
                {
                    track.add(point(&tag).map_err(wrong)?);
                }
            }
            Event::Text(words) if in_time => {
                if let Some((_, point)) = &mut open {
                    point.time_s = times.take(&String::from_utf8_lossy(&words));
                }
            }
            Event::End(tag) => {
                let name = tag.local_name();
                in_time = in_time && name.as_ref() != b"time";
                if let Some((_, point)) = open.take_if(|(open, _)| open == name.as_ref())
                    && let Some(track) = found.of(name.as_ref())
                {
                    track.add(point);
                }
            }
            _ => {}
        }
    }
    if !is_gpx {
        return Err("is XML, but has no element `gpx`".into());
    }
    if found.tracks.points() > 0 && found.routes.points() > 0 {
        let left_out = "the file holds routes too; they are left out, and its tracks count";
        found.tracks.notes.push(left_out.to_owned());
    }
    let route = |track: Track| Track { is_route: true, ..track };
    let by_worth = [found.tracks, route(found.routes), route(found.waypoints)];
    let mut track = by_worth.into_iter().find(|t| t.points() > 0).unwrap_or_default();
    times.told_of(&mut track);
    Ok(track)
}

fn line(text: &str, at: u64) -> usize {
    1 + text.as_bytes().iter().take(at as usize).filter(|b| **b == b'\n').count()
}

fn point(tag: &BytesStart<'_>) -> Result<TrackPoint, String> {
    let number = |name: &str| -> Result<f64, String> {
        let attribute = tag.try_get_attribute(name).map_err(|e| e.to_string())?;
        let attribute = attribute.ok_or_else(|| format!("a point without `{name}`"))?;
        let text = String::from_utf8_lossy(&attribute.value).into_owned();
        text.trim().parse().map_err(|_| format!("`{text}` is not a number of degrees"))
    };
    Ok(TrackPoint { at: position(number("lat")?, number("lon")?)?, time_s: None })
}
