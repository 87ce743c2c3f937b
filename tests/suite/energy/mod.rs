//! Energy of a trip: the battery, the hours of a day, whole trips, and the sun against published positions, times and sums.
mod sun;
mod trip;
mod walk;
