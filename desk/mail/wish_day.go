package mail

import (
	"strconv"
	"strings"
	"time"
)

// The days a letter names. One written with strokes can mean two and is left to
// the reader, unless a figure is over 12. One without a year is the next such
// day; a weekday is the next one after today, "next" the one in the week after
// that only where people agree on it, so it too is the coming one, and the words
// beside it let staff ask. Feasts are those whose day is the same wherever they
// are kept; Mother's Day is not. Rejected: days nobody can tell the date of
// ("early next month", "in spring").
type day struct {
	from, to int
	date     time.Time
	alone    bool // a weekday without a date
	short    bool // a day of the month without the month
	span     bool // "within two weeks", "in ten days"
	feast    bool // Easter
}

func (w *wisher) dates() {
	today := w.stock.Today
	if today.IsZero() {
		return
	}
	today = time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC)
	var last day // that "by then" means
	for i := 0; i < len(w.toks); i++ {
		if w.toks[i].mute || w.used[i] {
			continue
		}
		if n := w.many(i, kThen); n > 0 {
			w.byThen(i, n, last, today)
			i += n - 1
			continue
		}
		d, ok := w.dayAt(i, today, last)
		if !ok {
			continue
		}
		if d.from < d.to {
			from, to, due := w.due(d)
			if due && sure(d.date, today) {
				w.add(NeededField, d.date.Format("2006-01-02"), "", from, to)
			} else if !d.short {
				w.use(d.from, d.to)
			}
			last = d
		}
		i = max(i, d.to-1)
	}
}

// sure says whether a day is one to come, and not too far off to be meant.
func sure(date, today time.Time) bool {
	return !date.IsZero() && !date.Before(today) && !date.After(today.AddDate(2, 0, 0))
}

// byThen reads "by then", which means the day named last, in this sentence or
// the one before.
func (w *wisher) byThen(i, n int, last day, today time.Time) {
	s := w.sentenceOf(i)
	if i+n < s.to && !w.toks[i+n].mark && !w.is(i+n, kPlease) || last.to == 0 || last.span || !sure(last.date, today) || !w.wished(i) || w.toks[i].sentence > w.toks[last.from].sentence+1 {
		return
	}
	from, to := last.from, last.to
	if w.toks[i].sentence == w.toks[last.from].sentence {
		to = i + n
	}
	w.add(NeededField, last.date.Format("2006-01-02"), "", from, to)
}

func (w *wisher) isMonth(i int) bool { return w.month(i) > 0 }

func (w *wisher) month(i int) int {
	if i < 0 || i >= len(w.toks) || w.toks[i].mute {
		return 0
	}
	return w.table(i, func(x *lexicon) map[string]int { return x.months })
}

func (w *wisher) weekday(i int) int {
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
func (w *wisher) dayAt(i int, today time.Time, last day) (day, bool) {
	end := w.sentenceOf(i).to
	if n := w.many(i, kAfterTomorrow); n > 0 {
		return day{from: i, to: i + n, date: today.AddDate(0, 0, 2)}, true
	}
	if n := w.many(i, kTomorrow); n > 0 {
		return day{from: i, to: i + n, date: today.AddDate(0, 0, 1)}, true
	}
	if n := w.many(i, kWeekOn); n > 0 && i+n < end && w.weekday(i+n) > 0 { // a week on Friday
		return day{from: i, to: i + n + 1, date: coming(w.weekday(i+n), today).AddDate(0, 0, 7)}, true
	}
	if wd := w.weekday(i); wd > 0 {
		return w.weekdayAt(i, wd, today, last), true
	}
	if d, ok := w.monthEndAt(i, today); ok {
		return d, true
	}
	if d, ok := w.feastAt(i, end, today); ok {
		return d, true
	}
	if d, ok := w.dated(i, end, today); ok {
		return d, true
	}
	return w.ahead(i, end, today)
}

// coming is the next such weekday after today; Sunday is 1.
func coming(weekday int, today time.Time) time.Time {
	return today.AddDate(0, 0, (weekday-2-int(today.Weekday())+7)%7+1)
}

// weekdayAt reads "Friday", "Friday 13 March", "Friday of next week", "Friday
// week", "the Friday before".
func (w *wisher) weekdayAt(i, weekday int, today time.Time, last day) day {
	end, at := w.sentenceOf(i).to, i+1
	k := w.skip(at, end, kArticle)
	if k < end && w.toks[k].low == "," {
		k++
	}
	if d, ok := w.dated(k, end, today); ok && (!d.short || !w.is(at, kWeekWord)) {
		d.from, d.short = i, false
		return d
	}
	d := day{from: i, to: at, date: coming(weekday, today), alone: true}
	switch {
	case w.is(at, kWeekAfter):
		d.to, d.date, d.alone = at+w.many(at, kWeekAfter), d.date.AddDate(0, 0, 7), false
	case w.is(at, kWeekWord), w.is(at, kOfMonth): // the second Tuesday of the month
		return day{from: i, to: at + 1}
	case w.is(at, kDayBeforeIt) && (at+1 >= end || !w.noun(at+1, end) && !w.is(at+1, kSubject, kArticle, kMine)):
		d.to, d.date, d.alone = at+w.many(at, kDayBeforeIt), time.Time{}, false
		if sure(last.date, today) {
			d.date = coming(weekday, last.date.AddDate(0, 0, -8))
		}
	case w.is(at, kNextWeek) || w.before(i, kNextWeek) > 0:
		d.to, d.date = at+w.many(at, kNextWeek), coming(2, today).AddDate(0, 0, (weekday+5)%7)
	default:
		d.to += w.many(at, kNextAfter)
	}
	return d
}

// monthEndAt reads "the end of March", "the end of the month".
func (w *wisher) monthEndAt(i int, today time.Time) (day, bool) {
	if n := w.many(i, kEnding); n > 0 && w.month(i+n) > 0 {
		m, y := w.month(i+n), today.Year()
		if m < int(today.Month()) {
			y++
		}
		return day{from: i, to: i + n + 1, date: time.Date(y, time.Month(m)+1, 0, 0, 0, 0, 0, time.UTC)}, true
	}
	if n := w.many(i, kMonthEnd); n > 0 {
		return day{from: i, to: i + n, date: time.Date(today.Year(), today.Month()+1, 0, 0, 0, 0, 0, time.UTC)}, true
	}
	return day{}, false
}

// feastAt reads "Easter", unless it is part of a name: "the Easter egg".
func (w *wisher) feastAt(i, end int, today time.Time) (day, bool) {
	for _, x := range w.sentenceOf(i).lex {
		for n := 3; n > 0; n-- {
			if i+n > end || w.noun(i+n, end) {
				continue
			}
			if f, ok := x.feasts[w.spelled(i, i+n)]; ok {
				return day{from: i, to: i + n, date: f.next(today), feast: true}, true
			}
		}
	}
	return day{}, false
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
	if n > 1 { // une dizaine de jours
		n += w.many(i+n, kOf)
	}
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
	if y := w.figure(i, end); y >= 2000 && y < 2100 && i+2 < end && w.toks[i+1].glued && w.toks[i+2].glued {
		return day{from: i, to: i + 3, date: onDay(y, w.figure(i+1, end), w.figure(i+2, end), today)}, true
	}
	if m := w.month(i); m > 0 { // March 14th
		k := w.skip(i+1, end, kArticle)
		d := w.figure(k, end)
		if d < 1 || d > 31 {
			return day{}, false
		}
		y, to := w.year(k+1+w.many(k+1, kOrdinal), end)
		return day{from: i, to: to, date: onDay(y, m, d, today)}, true
	}
	if dd, mm, ok := strings.Cut(w.toks[i].low, "."); ok && w.toks[i].digits && i+1 < end && w.toks[i+1].glued { // 20.03.2026
		if y, to := w.year(i+1, end); y > 0 {
			d, _ := strconv.Atoi(dd)
			m, _ := strconv.Atoi(mm)
			return day{from: i, to: to, date: onDay(y, m, d, today)}, true
		}
	}
	d := w.figure(i, end)
	if d < 1 || d > 31 || i > 0 && w.toks[i].glued && !w.toks[i-1].mark {
		return day{}, false
	}
	if at := i + 1; at < end && w.toks[at].low == "/" && w.toks[at].glued && w.figure(at+1, end) > 0 {
		return w.stroked(i, d, end, today), true
	}
	return w.dayFirst(i, d, end, today)
}

// figure is the whole number written in figures at a token, or 0.
func (w *wisher) figure(k, end int) int {
	if k >= end || !w.toks[k].digits || w.toks[k].value != float64(int(w.toks[k].value)) {
		return 0
	}
	return int(w.toks[k].value)
}

// year reads the year that may follow at k, and tells where it ends.
func (w *wisher) year(k, end int) (y, to int) {
	at := k
	if at < end && w.toks[at].low == "," {
		at++
	}
	if y := w.figure(at, end); y >= 2000 && y < 2100 {
		return y, at + 1
	}
	return 0, k
}

// stroked reads "27/3" and "27/3/26"; the date is zero where it could be two.
func (w *wisher) stroked(i, d, end int, today time.Time) day {
	m, to, y := w.figure(i+2, end), i+3, 0
	if to < end && w.toks[to].low == "/" {
		if y = w.figure(to+1, end); y > 0 && y < 100 {
			y += 2000
		}
		to += 2
	}
	switch {
	case d > 12 && m <= 12:
		return day{from: i, to: to, date: onDay(y, m, d, today)}
	case m > 12 && d <= 12 && m < 32:
		return day{from: i, to: to, date: onDay(y, d, m, today)}
	}
	return day{from: i, to: to}
}

// dayFirst reads "14 March", "14th of March 2026", "the 14th".
func (w *wisher) dayFirst(i, d, end int, today time.Time) (day, bool) {
	at := i + 1
	ordinal := w.many(at, kOrdinal)
	if ordinal > 0 && !w.toks[at].glued {
		ordinal = 0
	}
	k := at + ordinal
	if w.is(k, kOf) && !w.toks[k].mark {
		k++
	}
	if m := w.month(k); m > 0 && k < end {
		y, to := w.year(k+1, end)
		return day{from: i, to: to, date: onDay(y, m, d, today)}, true
	}
	if k < end && w.toks[k].digits || at < end && w.toks[at].glued && ordinal == 0 && !w.toks[at].mark {
		return day{}, false
	}
	stops := at+ordinal >= end || w.toks[at+ordinal].mark || w.is(at+ordinal, kOther, kPlease)
	if !stops || ordinal == 0 && w.before(i, kThe, kDayBefore) == 0 && w.weekday(i-1) == 0 {
		return day{}, false
	}
	date := onDay(today.Year(), int(today.Month()), d, today)
	if date.IsZero() || date.Before(today) {
		date = onDay(today.Year(), int(today.Month())+1, d, today)
	}
	return day{from: i, to: at + ordinal, date: date, short: true}, true
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
