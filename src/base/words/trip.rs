//! Words of answers on trips.
use super::declare::words;

words! {
    /// Why a day stops at a place.
    pub enum StopReason {
        /// Drivers change.
        Change = "change",
        /// The rest that the rules of driving ask for.
        Break = "break",
        /// A meeting is held there.
        Meeting = "meeting",
        /// The night is spent there.
        Night = "night",
    }

    /// How a day is spent, the freest last.
    pub enum DayWay {
        /// Left when asked, with no stop for a meeting.
        AsAsked = "as asked",
        /// Left at another time.
        AnotherDeparture = "another departure",
        /// Stopped for meetings.
        StopsForMeetings = "stops for meetings",
        /// Both.
        DepartureAndStops = "departure and stops",
        /// The day of the plan, left late.
        Late = "late",
        /// Left late, with stops of its own.
        LateOtherStops = "late, other stops",
    }

    /// Which of the ways between places.
    pub enum WayName {
        /// Takes least time.
        Fastest = "fastest",
        /// One of those between.
        Between = "between",
        /// Loses the link least.
        Steadiest = "steadiest",
    }

    /// On which side of a drive something lies.
    pub enum DriveSide {
        /// To the left in the direction driven.
        Left = "left",
        /// To the right.
        Right = "right",
        /// No drive was asked about.
        None = "none",
    }
}
