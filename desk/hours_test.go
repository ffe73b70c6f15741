package desk

import (
	"testing"
	"time"
	_ "time/tzdata"
)

func span(from, to string) Span {
	minutes := func(s string) int {
		t, err := time.Parse("15:04", s)
		if err != nil {
			if s == "24:00" {
				return 24 * 60
			}
			panic(err)
		}
		return t.Hour()*60 + t.Minute()
	}
	return Span{minutes(from), minutes(to)}
}

func daily(spans ...Span) Branch {
	var b Branch
	for i := range b.Hours {
		b.Hours[i] = spans
	}
	return b
}

// The dates clocks change on are those of the IANA time zone database: in the
// European Union the last Sundays of March and October at 01:00 UTC, in the
// United States and Canada the second Sunday of March and the first of
// November at 02:00 local time. The moments are worked out by hand from the
// offsets.
func TestOpeningsAcrossClockChanges(t *testing.T) {
	for _, c := range []struct {
		name, zone, date string
		span             Span
		from, to         string // UTC; empty: not open
	}{
		{"Dublin in winter is UTC", "Europe/Dublin", "2026-03-28", span("10:00", "18:00"), "2026-03-28T10:00", "2026-03-28T18:00"},
		{"the Sunday clocks go forward", "Europe/Dublin", "2026-03-29", span("10:00", "18:00"), "2026-03-29T09:00", "2026-03-29T17:00"},
		{"open over the hour that does not come: an hour less", "Europe/Dublin", "2026-03-29", span("00:30", "03:00"), "2026-03-29T00:30", "2026-03-29T02:00"},
		{"from within the hour that does not come", "Europe/Dublin", "2026-03-29", span("01:30", "03:00"), "2026-03-29T01:00", "2026-03-29T02:00"},
		{"all within the hour that does not come", "Europe/Dublin", "2026-03-29", span("01:10", "01:50"), "", ""},
		{"the Sunday clocks go back", "Europe/Dublin", "2026-10-25", span("10:00", "18:00"), "2026-10-25T10:00", "2026-10-25T18:00"},
		{"open over the hour that comes twice: an hour more", "Europe/Dublin", "2026-10-25", span("00:30", "03:00"), "2026-10-24T23:30", "2026-10-25T03:00"},
		{"to within the hour that comes twice: its first", "Europe/Dublin", "2026-10-25", span("00:30", "01:30"), "2026-10-24T23:30", "2026-10-25T00:30"},
		{"Berlin before", "Europe/Berlin", "2026-03-28", span("09:00", "24:00"), "2026-03-28T08:00", "2026-03-28T23:00"},
		{"Berlin, all day of 23 hours", "Europe/Berlin", "2026-03-29", span("00:00", "24:00"), "2026-03-28T23:00", "2026-03-29T22:00"},
		{"Berlin, all day of 25 hours", "Europe/Berlin", "2026-10-25", span("00:00", "24:00"), "2026-10-24T22:00", "2026-10-25T23:00"},
		{"Toronto the day before", "America/Toronto", "2026-03-07", span("10:00", "17:00"), "2026-03-07T15:00", "2026-03-07T22:00"},
		{"Toronto, clocks forward", "America/Toronto", "2026-03-08", span("10:00", "17:00"), "2026-03-08T14:00", "2026-03-08T21:00"},
		{"Toronto, clocks back", "America/Toronto", "2026-11-01", span("10:00", "17:00"), "2026-11-01T15:00", "2026-11-01T22:00"},
		{"Phoenix keeps its clocks", "America/Phoenix", "2026-03-08", span("10:00", "17:00"), "2026-03-08T17:00", "2026-03-09T00:00"},
		{"St. John's is half an hour off", "America/St_Johns", "2026-07-01", span("09:30", "12:00"), "2026-07-01T12:00", "2026-07-01T14:30"},
		{"Lord Howe moves by half an hour", "Australia/Lord_Howe", "2026-10-04", span("02:15", "03:00"), "2026-10-03T15:30", "2026-10-03T16:00"},
		{"Santiago has no midnight when clocks go forward", "America/Santiago", "2026-09-06", span("00:00", "09:00"), "2026-09-06T04:00", "2026-09-06T12:00"},
		{"Apia had no 30 December 2011", "Pacific/Apia", "2011-12-31", span("10:00", "12:00"), "2011-12-30T20:00", "2011-12-30T22:00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			zone, err := time.LoadLocation(c.zone)
			if err != nil {
				t.Fatal(err)
			}
			noon, err := time.ParseInLocation("2006-01-02 15", c.date+" 12", zone)
			if err != nil {
				t.Fatal(err)
			}
			open := OpeningsOn(daily(c.span), noon, zone)
			if c.from == "" {
				if len(open) != 0 {
					t.Fatalf("open %v", open)
				}
				return
			}
			if len(open) != 1 {
				t.Fatalf("%d stretches", len(open))
			}
			const form = "2006-01-02T15:04"
			if from, to := open[0].From.UTC().Format(form), open[0].To.UTC().Format(form); from != c.from || to != c.to {
				t.Errorf("open from %s to %s UTC, want %s to %s", from, to, c.from, c.to)
			}
			b := daily(c.span)
			for _, at := range []struct {
				t    time.Time
				open bool
			}{
				{open[0].From, true}, {open[0].From.Add(-time.Microsecond), false},
				{open[0].To.Add(-time.Microsecond), true},
			} {
				if c.span.To == 24*60 && c.span.From == 0 {
					at.open = true // the day before is open to midnight too
				}
				if got := OpenAt(b, at.t, zone); got != at.open {
					t.Errorf("open at %s is %v", at.t.UTC(), got)
				}
			}
		})
	}
}

// Every minute of two days around each change: what is open by the openings is
// what the clock on the wall says, outside the hour that comes twice.
func TestOpenAtAgreesWithTheWallClock(t *testing.T) {
	b := daily(span("00:30", "02:45"), span("09:00", "12:30"), span("13:30", "24:00"))
	for _, c := range []struct{ zone, from string }{
		{"Europe/Dublin", "2026-03-28T12:00:00Z"}, {"Europe/Dublin", "2026-10-24T12:00:00Z"},
		{"America/Toronto", "2026-03-07T12:00:00Z"}, {"America/Toronto", "2026-10-31T12:00:00Z"},
		{"Australia/Lord_Howe", "2026-04-04T00:00:00Z"}, {"America/Santiago", "2026-04-04T12:00:00Z"},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		from, err := time.Parse(time.RFC3339, c.from)
		if err != nil {
			t.Fatal(err)
		}
		for m := range 2 * 24 * 60 {
			at := from.Add(time.Duration(m) * time.Minute)
			local := at.In(zone)
			if twice(at, zone) {
				continue
			}
			wall := local.Hour()*60 + local.Minute()
			want := false
			for _, s := range b.Hours[local.Weekday()] {
				want = want || s.From <= wall && wall < s.To
			}
			if got := OpenAt(b, at, zone); got != want {
				t.Fatalf("%s, %s: open %v, the clock says %v", c.zone, local, got, want)
			}
		}
	}
}

// What is good until the end of a day ends with that day, also where the clocks
// go forward or back at midnight: Santiago on 6 September and 5 April 2026,
// Havana on 8 March and 1 November (IANA time zone database).
func TestEndOfDay(t *testing.T) {
	for _, c := range []struct{ zone, date, end string }{
		{"Europe/Dublin", "2026-03-28", "2026-03-28T23:59:59.999999Z"},
		{"Europe/Dublin", "2026-10-24", "2026-10-24T22:59:59.999999Z"},
		{"America/Santiago", "2026-09-05", "2026-09-06T03:59:59.999999Z"},
		{"America/Santiago", "2026-04-04", "2026-04-05T03:59:59.999999Z"},
		{"America/Havana", "2026-03-07", "2026-03-08T04:59:59.999999Z"},
		{"America/Havana", "2026-10-31", "2026-11-01T03:59:59.999999Z"},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		noon, err := time.ParseInLocation("2006-01-02 15:04", c.date+" 12:00", zone)
		if err != nil {
			t.Fatal(err)
		}
		for days := range 3 {
			if got := endOfDay(noon.AddDate(0, 0, -days), days, zone).Format(time.RFC3339Nano); got != c.end {
				t.Errorf("%s, the end of %s, %d days before: %s, want %s", c.zone, c.date, days, got, c.end)
			}
		}
	}
}

// twice says whether the clock shows the same within the three hours around.
func twice(at time.Time, zone *time.Location) bool {
	const form = "2006-01-02 15:04"
	for m := -180; m <= 180; m += 30 {
		if o := at.Add(time.Duration(m) * time.Minute); m != 0 && o.In(zone).Format(form) == at.In(zone).Format(form) {
			return true
		}
	}
	return false
}

func TestClosedDaysAndNextOpening(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	b := Branch{Closed: []ClosedDay{{Date: "2026-12-25", Why: "Christmas"}, {Date: "2026-12-26"}}}
	for day := time.Monday; day <= time.Saturday; day++ {
		b.Hours[day] = []Span{span("10:00", "13:00"), span("14:00", "18:00")}
	}
	at := func(s string) time.Time {
		x, err := time.ParseInLocation("2006-01-02 15:04", s, zone)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, c := range []struct {
		at   string
		open bool
		next string // from when, at or after
		name string
	}{
		{"2026-12-24 12:59", true, "2026-12-24 10:00", "Thursday, before lunch"},
		{"2026-12-24 13:00", false, "2026-12-24 14:00", "lunch begins on the minute"},
		{"2026-12-24 18:00", false, "2026-12-28 10:00", "Friday and Saturday are closed days, then a Sunday"},
		{"2026-12-25 11:00", false, "2026-12-28 10:00", "a closed day"},
		{"2026-12-28 10:00", true, "2026-12-28 10:00", "Monday, opening"},
	} {
		if got := OpenAt(b, at(c.at), zone); got != c.open {
			t.Errorf("%s (%s): open %v", c.at, c.name, got)
		}
		next, ok := NextOpening(b, at(c.at), zone)
		if !ok || !next.From.Equal(at(c.next)) {
			t.Errorf("%s (%s): next opening %v, want %s", c.at, c.name, next.From.In(zone), c.next)
		}
	}
	if _, ok := NextOpening(Branch{}, at("2026-12-24 12:00"), zone); ok {
		t.Error("a branch without hours opens")
	}
	if !OpenAt(b, at("2026-12-24 12:00").UTC(), zone) {
		t.Error("it matters which zone a moment is given in")
	}
}
