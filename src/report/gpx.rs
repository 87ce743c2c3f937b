//! GPX 1.1, the one writer of it: waypoints and tracks with names and descriptions.
use crate::base::geodesy::Position;
use crate::base::markup::escape;

/// A document while it is written.
pub(super) struct Gpx {
    text: String,
}

impl Gpx {
    /// A document with a description of the whole.
    pub fn new(description: &str) -> Self {
        let text = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"waymask\" \
             xmlns=\"http://www.topografix.com/GPX/1/1\">\n<metadata><desc>{}</desc></metadata>\n",
            escape(description)
        );
        Self { text }
    }

    /// A place.
    pub(crate) fn waypoint(&mut self, (lat_deg, lon_deg): (f64, f64), name: &str, description: &str) {
        let (name, description) = (escape(name), escape(description));
        self.text += &format!(
            "<wpt lat=\"{lat_deg:.7}\" lon=\"{lon_deg:.7}\"><name>{name}</name><desc>{description}</desc></wpt>\n"
        );
    }

    /// A track of one or more pieces.
    pub fn track(&mut self, name: &str, description: &str, pieces: &[Vec<Position>]) {
        self.text += &format!("<trk><name>{}</name><desc>{}</desc>\n", escape(name), escape(description));
        for piece in pieces {
            self.text += "<trkseg>\n";
            for p in piece {
                self.text += &format!("<trkpt lat=\"{:.7}\" lon=\"{:.7}\"/>\n", p.lat_deg(), p.lon_deg());
            }
            self.text += "</trkseg>\n";
        }
        self.text += "</trk>\n";
    }

    /// The document.
    pub fn finish(self) -> String {
        self.text + "</gpx>\n"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_document_holds_places_and_tracks_and_no_foreign_tag() {
        let mut gpx = Gpx::new("a & b");
        gpx.waypoint((42.5, 1.5), "<x>", "\"y\"");
        gpx.track("t", "d", &[vec![Position::from_deg(1.5, 42.5), Position::from_deg(-1.6, 42.0)]]);
        let expected = "<metadata><desc>a &amp; b</desc></metadata>\n\
             <wpt lat=\"42.5000000\" lon=\"1.5000000\"><name>&lt;x&gt;</name><desc>&quot;y&quot;</desc></wpt>\n\
             <trk><name>t</name><desc>d</desc>\n<trkseg>\n<trkpt lat=\"42.5000000\" lon=\"1.5000000\"/>\n\
             <trkpt lat=\"42.0000000\" lon=\"-1.6000000\"/>\n</trkseg>\n</trk>\n</gpx>\n";
        let text = gpx.finish();
        assert!(text.ends_with(expected), "{text}");
    }
}
