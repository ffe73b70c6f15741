package mail

// A day is when the print is needed only where words say so: a deadline before
// it ("by", "d'ici"), a need or an occasion in its clause. Days of opening, of
// passing by, of holidays and of letters are none. Rejected: every day to come
// that a letter names, since people write of their own.

// about is what a sentence speaks of around a day.
type about struct {
	needed, event, hours, away, visit, reply bool
}

func (w *wisher) aboutDay(d day) about {
	var a about
	s, clause := w.sentenceOf(d.from), w.toks[d.from].clause
	for k := max(s.from, d.from-40); k < min(s.to, d.to+40); k++ {
		same, before := w.toks[k].clause == clause, k < d.from
		joined := w.toks[k].clause == clause+1 && w.is(k, kReady) // in town on Friday, and hope to find it ready
		a.needed = a.needed || w.is(k, kNeed) && (same || before || joined)
		a.event = a.event || w.is(k, kEvent)
		a.hours = a.hours || same && w.many(k, kHours) > 0 && w.many(k, kClock) <= w.many(k, kHours) // "close of play"
		a.away = a.away || w.is(k, kAway) && same && before
		a.reply = a.reply || w.is(k, kReply) && same && before
		a.visit = a.visit || w.is(k, kVisit) && same && before
	}
	a.visit = a.visit && !(a.needed && w.mood[d.from] == asked)
	return a
}

// due says whether the print is needed by a day, and with which words.
func (w *wisher) due(d day) (from, to int, ok bool) {
	a := w.aboutDay(d)
	m := w.mood[d.from]
	if w.denied[d.from] || m == gone || m == theirs || m == inquiry && !w.is(d.to, kPlease, kPossible) && !w.is(d.to+1, kPossible) && !w.readyBy(d) || a.hours || a.reply {
		return 0, 0, false
	}
	if n := w.many(d.to, kAtLatest); n > 0 && !a.away {
		return d.from, d.to + n, true
	}
	lead, dead := w.deadline(d)
	switch {
	case d.span:
		return w.dueSpan(d, a, dead)
	case dead > 0:
		ok := !a.away && (m != told || a.needed || a.event) && w.before(lead-dead, kNoThing) == 0 && (!a.visit || w.before(lead, kStrict) > 0)
		return lead - dead, d.to, ok
	}
	if k := w.beforeGoing(d, lead); k >= 0 {
		return k, d.to, true
	}
	return d.from, d.to, w.dueByItself(d, a)
}

// deadline finds the word before a day that makes it one: "by Friday", "by noon
// on Friday", "needed by: Friday". It ends at lead and takes so many tokens.
func (w *wisher) deadline(d day) (lead, tokens int) {
	start, _ := w.clauseOf(d.from)
	lead = w.back(d.from, start, kArticle, kNext, kAbout)
	if n := w.before(lead, kDeadline); n > 0 {
		return lead, n
	}
	lead = d.from
	if n := w.before(lead, kDeadline); n > 0 {
		return lead, n
	}
	if lead > start && w.toks[lead-1].low == ":" {
		if n := w.before(lead-1, kDeadline); n > 0 {
			return lead, n + 1
		}
	}
	for k := lead; k > start && lead-k < 5; { // by noon on Friday
		n := w.before(k, kClock)
		if n == 0 && w.toks[k-1].digits && w.is(k, kClock) {
			n = 1
		}
		if n == 0 {
			break
		}
		k -= n
		if n := w.before(k, kDeadline); n > 0 {
			return k, n
		}
	}
	return lead, 0
}

// dueSpan judges "within two weeks", "in ten days", "two weeks from now".
func (w *wisher) dueSpan(d day, a about, dead int) (from, to int, ok bool) {
	if a.away {
		return 0, 0, false
	}
	wanted := !a.visit && w.wished(d.from)
	if n := w.many(d.to, kFromNow); n > 0 && wanted && (a.needed || dead > 0) {
		return d.from, d.to + n, true
	}
	if n := w.before(d.from, kNotAfter); n > 0 {
		return d.from - n, d.to, true
	}
	if n := w.before(d.from, kHence); n > 0 && a.needed && wanted {
		return d.from - n, d.to, true
	}
	return 0, 0, false
}

// beforeGoing finds "before" in "before we leave on the 20th", or -1.
func (w *wisher) beforeGoing(d day, lead int) int {
	start, _ := w.clauseOf(d.from)
	if d.short || lead > start && w.before(d.from, kOnDay) > 0 {
		for k := d.from - 1; k >= start && k > d.from-12; k-- {
			if w.is(k, kBefore) && !w.denied[k] {
				return k
			}
		}
	}
	return -1
}

// dueByItself judges a day without a deadline's word: by a need or an occasion
// beside it, or as what is asked for ("Friday, please").
func (w *wisher) dueByItself(d day, a about) bool {
	start, _ := w.clauseOf(d.from)
	lead := w.back(d.from, start, kArticle, kNext, kAbout)
	m, s := w.mood[d.from], w.sentenceOf(d.from)
	on := w.before(d.from, kOnDay, kDayBefore) > 0 || w.before(d.from-1, kOnDay) > 0
	switch {
	case a.away || a.visit || d.feast:
		return false
	case w.is(d.to, kPossible), d.to < s.to && w.toks[d.to].low == "," && w.is(d.to+1, kPossible):
		return true
	case d.short && !on:
		return false
	case a.needed && (m == asked || m == bare && !s.question):
		return true
	case (a.event || on && w.occasion(d.from, start)) && (!s.question || m == asked) && (m != told || on || w.before(lead, kOnDay) > 0):
		return true
	}
	// Friday please; tomorrow would be great
	first := lead == start || lead == start+1 && w.toks[start].mark
	return first && w.polite(d.from) && m == asked && !(d.alone && w.before(d.from, kThe) > 0)
}

// occasion says whether a day is that of something the print is for: "for a
// dinner on the 28th".
func (w *wisher) occasion(i, start int) bool {
	some := false
	for k := w.back(i, start, kOnDay, kArticle); k > start && k > i-8; k-- {
		if w.is(k-1, kForWhom) {
			return some
		}
		some = some || w.is(k-1, kArticle, kMine)
		if !w.noun(k-1, i) && !w.is(k-1, kArticle, kMine, kOf) {
			return false
		}
	}
	return false
}

// readyBy says whether a question is whether the print is ready by a day.
func (w *wisher) readyBy(d day) bool {
	start, _ := w.clauseOf(d.from)
	return w.within(max(start, d.from-7), d.from, kReady)
}
