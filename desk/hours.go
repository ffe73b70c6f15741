package desk

import (
	"time"
)

// Hours are kept as a clock on the branch's wall shows them, minutes after
// midnight, and turned into moments only when a date is known: the same "10
// to 18" is another pair of moments before and after the clocks change.
//
// Where the clocks go back, a time of day that comes twice is the first of the
// two. Where they go forward, a time of day that does not come is the moment of
// the change.

// Opening is one stretch a branch is open, from a moment to before another.
type Opening struct{ From, To time.Time }

// Zone is where the library's clocks are. A zone that is not known is UTC:
// one that cannot be loaded is refused when the setting is saved.
func (l Library) Zone() *time.Location {
	zone, err := time.LoadLocation(l.TimeZone)
	if err != nil {
		return time.UTC
	}
	return zone
}

// OpenAt says whether the branch is open at t, with its clocks in zone.
func OpenAt(b Branch, t time.Time, zone *time.Location) bool {
	for _, o := range OpeningsOn(b, t, zone) {
		if !t.Before(o.From) && t.Before(o.To) {
			return true
		}
	}
	return false
}

// OpeningsOn lists when the branch is open on the date that t falls on in zone,
// in order. A closed day has none.
func OpeningsOn(b Branch, t time.Time, zone *time.Location) []Opening {
	year, month, day := t.In(zone).Date()
	date := time.Date(year, month, day, 12, 0, 0, 0, time.UTC)
	for _, c := range b.Closed {
		if c.Date == date.Format(time.DateOnly) {
			return nil
		}
	}
	var open []Opening
	for _, s := range b.Hours[date.Weekday()] {
		o := Opening{moment(year, month, day, s.From, zone), moment(year, month, day, s.To, zone)}
		if o.From.Before(o.To) {
			open = append(open, o)
		}
	}
	return open
}

// NextOpening is the stretch the branch is open in at t, or the first one
// after it. There is none if the branch does not open within a year.
func NextOpening(b Branch, t time.Time, zone *time.Location) (Opening, bool) {
	year, month, day := t.In(zone).Date()
	for i := range 366 {
		// Noon is on that date in every zone.
		for _, o := range OpeningsOn(b, time.Date(year, month, day+i, 12, 0, 0, 0, zone), zone) {
			if t.Before(o.To) {
				return o, true
			}
		}
	}
	return Opening{}, false
}

// endOfDay is the last microsecond of the day so many days after the one t falls
// on in zone. Where the clocks go forward at midnight the next day begins at one:
// what is good until the end of a day must not end an hour early for that.
func endOfDay(t time.Time, days int, zone *time.Location) time.Time {
	year, month, day := t.In(zone).Date()
	return moment(year, month, day+max(0, days)+1, 0, zone).Add(-time.Microsecond).UTC()
}

// moment is when the clock in zone shows so many minutes after midnight.
func moment(year int, month time.Month, day, minutes int, zone *time.Location) time.Time {
	wall := time.Date(year, month, day, 0, minutes, 0, 0, time.UTC)
	shows := func(t time.Time) bool {
		_, offset := t.In(zone).Zone()
		return t.Add(time.Duration(offset) * time.Second).Equal(wall)
	}
	// The offsets in force a day before and a day after: whatever the clocks do
	// in between, the moment looked for has one of the two.
	_, before := wall.Add(-24 * time.Hour).In(zone).Zone()
	_, after := wall.Add(24 * time.Hour).In(zone).Zone()
	a := wall.Add(-time.Duration(before) * time.Second)
	b := wall.Add(-time.Duration(after) * time.Second)
	if b.Before(a) {
		a, b = b, a
	}
	switch {
	case shows(a):
		return a
	case shows(b):
		return b
	}
	// Neither: the clocks jumped over it, between a and b.
	if _, change := a.In(zone).ZoneBounds(); !change.IsZero() {
		return change.UTC()
	}
	return a
}
