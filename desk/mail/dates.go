package mail

import (
	"strconv"
	"strings"
	"time"
)

// A date written with strokes can mean two days and is left to the reader,
// unless a figure is over 12. One without a year is the next such day; a
// weekday is the next one after today, "next" the one in the week after that
// only where people agree on it, so it too is the coming one, and the words
// beside it let staff ask.
//
// A day is when the print is needed only where words say so: a deadline before
// it ("by", "d'ici"), a need or an occasion in its clause. Days of opening, of
// passing by, of holidays and of letters are none.
type day struct {
	from, to int
	date     time.Time
	alone    bool // a weekday without a date
	short    bool // a day of the month without the month
	span     bool // "within two weeks", "in ten days"
}

func (w *wisher) dates() {
	today := w.stock.Today
	if today.IsZero() {
		return
	}
	today = time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC)
	for i := 0; i < len(w.toks); i++ {
		if w.toks[i].mute || w.used[i] {
			continue
		}
		d, ok := w.dayAt(i, today)
		if !ok {
			continue
		}
		if d.from < d.to {
			from, to, due := w.due(d)
			sure := !d.date.IsZero() && !d.date.Before(today) && !d.date.After(today.AddDate(2, 0, 0))
			if due && sure {
				w.add(NeededField, d.date.Format("2006-01-02"), "", from, to)
			} else if !d.short {
				w.use(d.from, d.to)
			}
		}
		i = max(i, d.to-1)
	}
}

func (w *wisher) isMonth(i int) bool { return w.month(i) > 0 }

func (w *wisher) month(i int) int {
	if i < 0 || i >= len(w.toks) || w.toks[i].mute {
		return 0
	}
	return w.table(i, func(x *lexicon) map[string]int { return x.months })
}

func (w *wisher) weekday(i int) int {
	if i < len(w.toks) && strings.HasSuffix(w.toks[i].low, "'s") { // Saturday's fair
		for _, x := range w.sentenceOf(i).lex {
			if n := x.days[strings.TrimSuffix(w.toks[i].low, "'s")]; n > 0 {
				return n
			}
		}
	}
	return w.table(i, func(x *lexicon) map[string]int { return x.days })
}

func (w *wisher) table(i int, of func(*lexicon) map[string]int) int {
	if i < 0 || i >= len(w.toks) {
		return 0
	}
	for _, x := range w.sentenceOf(i).lex {
		if n, ok := of(x)[w.spelled(i, i+1)]; ok {
			return n
		}
		if n, ok := of(x)[w.toks[i].low]; ok {
			return n
		}
	}
	return 0
}

// dayAt reads the day written at a token. The date is zero where there is none
// such, or it cannot be told.
func (w *wisher) dayAt(i int, today time.Time) (day, bool) {
	end := w.sentenceOf(i).to
	t := w.toks[i]
	if n := w.many(i, kAfterTomorrow); n > 0 {
		return day{from: i, to: i + n, date: today.AddDate(0, 0, 2)}, true
	}
	if n := w.many(i, kTomorrow); n > 0 {
		return day{from: i, to: i + n, date: today.AddDate(0, 0, 1)}, true
	}
	if wd := w.weekday(i); wd > 0 {
		at := i + 1
		k := w.skip(at, end, kArticle)
		if k < end && w.toks[k].low == "," {
			k++
		}
		if d, ok := w.dated(k, end, today); ok && !d.short {
			d.from = i
			return d, true
		}
		if w.is(at, kWeekWord) || w.toks[at-1].low != t.low { // "Friday week"
			return day{from: i, to: at + 1}, true
		}
		if d, ok := w.dated(k, end, today); ok {
			d.from = i
			return d, true
		}
		ahead := (wd - 1 - int(today.Weekday()) + 7) % 7
		if ahead == 0 {
			ahead = 7
		}
		if n := w.many(at, kNextWeek); n > 0 || w.before(i, kNextWeek) > 0 { // Friday of next week
			monday := (8 - int(today.Weekday())) % 7
			if monday == 0 {
				monday = 7
			}
			return day{from: i, to: at + n, date: today.AddDate(0, 0, monday+(wd+5)%7), alone: true}, true
		}
		return day{from: i, to: at + w.many(at, kNextAfter), date: today.AddDate(0, 0, ahead), alone: true}, true
	}
	if n := w.many(i, kEnding); n > 0 {
		if m := w.month(i + n); m > 0 {
			y := today.Year()
			if m < int(today.Month()) {
				y++
			}
			return day{from: i, to: i + n + 1, date: time.Date(y, time.Month(m)+1, 0, 0, 0, 0, 0, time.UTC)}, true
		}
	}
	if n := w.many(i, kMonthEnd); n > 0 {
		return day{from: i, to: i + n, date: time.Date(today.Year(), today.Month()+1, 0, 0, 0, 0, 0, time.UTC)}, true
	}
	if d, ok := w.dated(i, end, today); ok {
		return d, true
	}
	return w.ahead(i, end, today)
}

// ahead reads "two weeks", "10 days".
func (w *wisher) ahead(i, end int, today time.Time) (day, bool) {
	v, n := w.number(i)
	if n == 0 && w.is(i, kArticle) {
		v, n = 1, 1
	}
	if n == 0 || i+n >= end || v < 1 || v > 99 || v != float64(int(v)) {
		return day{}, false
	}
	days := int(v)
	k := w.many(i+n, kFortnight)
	if k > 0 {
		return day{from: i, to: i + n + k, date: today.AddDate(0, 0, 14*days), span: true}, true
	}
	k = w.many(i+n, kWeekWord)
	if k > 0 {
		days *= 7
	} else if k = w.many(i+n, kDayWord); k == 0 {
		return day{}, false
	}
	return day{from: i, to: i + n + k, date: today.AddDate(0, 0, days), span: true}, true
}

// dated reads a day of a month: "14 March 2026", "March 14th", "2026-03-14",
// "27/3", "the 20th".
func (w *wisher) dated(i, end int, today time.Time) (day, bool) {
	if i >= end {
		return day{}, false
	}
	whole := func(k int) int {
		if k >= end || !w.toks[k].digits || w.toks[k].value != float64(int(w.toks[k].value)) {
			return 0
		}
		return int(w.toks[k].value)
	}
	year := func(k int) (int, int) {
		if k < end && w.toks[k].low == "," {
			k++
		}
		if y := whole(k); y >= 2000 && y < 2100 {
			return y, k + 1
		}
		return 0, 0
	}
	if y := whole(i); y >= 2000 && y < 2100 && i+2 < end && w.toks[i+1].glued && w.toks[i+2].glued {
		return day{from: i, to: i + 3, date: onDay(y, whole(i+1), whole(i+2), today)}, true
	}
	if m := w.month(i); m > 0 {
		k := w.skip(i+1, end, kArticle)
		if d := whole(k); d > 0 && d < 32 {
			to := k + 1
			to += w.many(to, kOrdinal)
			y, at := year(to)
			if at > 0 {
				to = at
			}
			return day{from: i, to: to, date: onDay(y, m, d, today)}, true
		}
		return day{}, false
	}
	// 20.03.2026
	if dd, mm, ok := strings.Cut(w.toks[i].low, "."); ok && w.toks[i].digits && i+1 < end && w.toks[i+1].glued {
		if y, to := year(i + 1); to > 0 {
			d, _ := strconv.Atoi(dd)
			m, _ := strconv.Atoi(mm)
			return day{from: i, to: to, date: onDay(y, m, d, today)}, true
		}
	}
	d := whole(i)
	if d < 1 || d > 31 || i > 0 && w.toks[i].glued && !w.toks[i-1].mark {
		return day{}, false
	}
	at := i + 1
	if at < end && w.toks[at].low == "/" && w.toks[at].glued && whole(at+1) > 0 {
		m, to := whole(at+1), at+2
		y := 0
		if to < end && w.toks[to].low == "/" {
			if y = whole(to + 1); y > 0 && y < 100 {
				y += 2000
			}
			to += 2
		}
		switch {
		case d > 12 && m <= 12:
			return day{from: i, to: to, date: onDay(y, m, d, today)}, true
		case m > 12 && d <= 12 && m < 32:
			return day{from: i, to: to, date: onDay(y, d, m, today)}, true
		}
		return day{from: i, to: to}, true
	}
	ordinal := w.many(at, kOrdinal)
	if ordinal > 0 && !w.toks[at].glued {
		ordinal = 0
	}
	k := at + ordinal
	if w.is(k, kOf) && !w.toks[k].mark {
		k++
	}
	if m := w.month(k); m > 0 && k < end {
		to := k + 1
		y, after := year(to)
		if after > 0 {
			to = after
		}
		return day{from: i, to: to, date: onDay(y, m, d, today)}, true
	}
	if k < end && w.toks[k].digits || at < end && w.toks[at].glued && ordinal == 0 && !w.toks[at].mark {
		return day{}, false
	}
	stops := at+ordinal >= end || w.toks[at+ordinal].mark || w.is(at+ordinal, kOther, kPlease)
	if stops && (ordinal > 0 || w.before(i, kThe) > 0 || w.before(i, kDayBefore) > 0) {
		date := onDay(today.Year(), int(today.Month()), d, today)
		if date.IsZero() || date.Before(today) {
			date = onDay(today.Year(), int(today.Month())+1, d, today)
		}
		return day{from: i, to: at + ordinal, date: date, short: true}, true
	}
	return day{}, false
}

// onDay is a date; without a year the next such. It is zero where there is
// none, as on the 31st of June.
//
// It is zero too where the day has just been.
func onDay(y, m, d int, today time.Time) time.Time {
	make := func(y int) time.Time {
		t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
		if m < 1 || m > 13 || t.Day() != d {
			return time.Time{}
		}
		return t
	}
	if y > 0 {
		return make(y)
	}
	if t := make(today.Year()); !t.Before(today) {
		return t
	}
	// A day not long past is more likely meant than the one in a year.
	if t := make(today.Year() + 1); t.Before(today.AddDate(0, 10, 0)) {
		return t
	}
	return time.Time{}
}

// readyBy says whether a question is whether the print is ready by a day.
func (w *wisher) readyBy(d day) bool {
	start, _ := w.clauseOf(d.from)
	for k := d.from - 1; k >= start && k > d.from-8; k-- {
		if w.is(k, kReady) {
			return true
		}
	}
	return false
}

// due says whether the print is needed by a day, and with which words.
func (w *wisher) due(d day) (from, to int, ok bool) {
	start, end := w.clauseOf(d.from)
	s := w.sentenceOf(d.from)
	if w.denied[d.from] || w.mood[d.from] == gone || w.mood[d.from] == theirs || w.mood[d.from] == inquiry && !w.is(d.to, kPlease, kPossible) && !w.readyBy(d) {
		return 0, 0, false
	}
	needed, event, hours, away, visit, reply := false, false, false, false, false, false
	for k := max(s.from, d.from-40); k < min(s.to, d.to+40); k++ {
		same := w.toks[k].clause == w.toks[d.from].clause
		needed = needed || w.is(k, kNeed) && (same || k < d.from)
		event = event || w.is(k, kEvent)
		hours = hours || w.is(k, kHours) && same
		away = away || w.is(k, kAway) && same && k < d.from
		reply = reply || w.is(k, kReply) && same && k < d.from
		visit = visit || w.is(k, kVisit) && same && k < d.from
	}
	visit = visit && !(needed && w.mood[d.from] == asked)
	if hours || reply {
		return 0, 0, false
	}
	if n := w.many(d.to, kAtLatest); n > 0 && !away {
		return d.from, d.to + n, true
	}
	lead := w.back(d.from, start, kArticle, kNext, kAbout)
	dead := w.before(lead, kDeadline)
	if dead == 0 {
		lead = d.from
		dead = w.before(lead, kDeadline)
	}
	if dead == 0 && lead > start && w.toks[lead-1].low == ":" {
		if dead = w.before(lead-1, kDeadline); dead > 0 {
			dead++
		}
	}
	if dead == 0 { // by noon on Friday
		k := lead
		for k > start && lead-k < 5 {
			n := w.before(k, kClock)
			if n == 0 && w.toks[k-1].digits && w.is(k, kClock) {
				n = 1
			}
			if n == 0 {
				break
			}
			k -= n
		}
		if n := w.before(k, kDeadline); k < lead && n > 0 {
			lead, dead = k, n
		}
	}
	if d.span {
		if n := w.many(d.to, kFromNow); n > 0 && !away && !visit && w.wished(d.from) && (needed || dead > 0) {
			return d.from, d.to + n, true
		}
		if n := w.before(d.from, kNotAfter); n > 0 && !away {
			return d.from - n, d.to, true
		}
		if n := w.before(d.from, kHence); n > 0 && needed && !away && !visit && w.wished(d.from) {
			return d.from - n, d.to, true
		}
		return 0, 0, false
	}
	if dead > 0 {
		if away || w.mood[d.from] == told && !needed && !event || w.before(lead-dead, kNoThing) > 0 || visit && w.before(lead, kStrict) == 0 {
			return 0, 0, false
		}
		return lead - dead, d.to, true
	}
	if w.before(w.back(lead, start, kOnDay), kWeekWord) > 0 { // a week on Friday
		return 0, 0, false
	}
	if lead > start && w.before(d.from, kOnDay) > 0 || d.short { // before we leave on the 20th
		for k := d.from - 1; k >= start && k > d.from-12; k-- {
			if w.is(k, kBefore) && !w.denied[k] {
				return k, d.to, true
			}
		}
	}
	if w.is(d.to, kPossible) && !away && !visit {
		return d.from, d.to, true
	}
	if d.short && !(w.before(d.from, kOnDay, kDayBefore) > 0 || w.before(d.from-1, kOnDay) > 0) || away || visit {
		return 0, 0, false
	}
	if needed && (w.mood[d.from] == asked || w.mood[d.from] == bare && !s.question) {
		return d.from, d.to, true
	}
	if event && !s.question && w.mood[d.from] != told || event && w.mood[d.from] == told && w.before(lead, kOnDay) > 0 && !s.question {
		return d.from, d.to, true
	}
	// Friday please; tomorrow would be great
	if (lead == start || lead == start+1 && w.toks[start].mark) && w.polite(d.from) && w.mood[d.from] == asked && !(d.alone && w.before(d.from, kThe) > 0) {
		return d.from, d.to, true
	}
	_ = end
	return 0, 0, false
}
