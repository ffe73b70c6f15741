package mail

// moods gives each token of a sentence its mood.
func (w *wisher) moods(s saying) {
	start := bare
	if s.question && w.inquires(s) {
		start = inquiry
	}
	carry := start
	for from := s.from; from < s.to; {
		to := from + 1
		for to < s.to && w.toks[to].clause == w.toks[from].clause {
			to++
		}
		if w.is(from, kTurn) || from+1 < to && w.is(from+1, kTurn) {
			carry = start
		}
		w.clauseMoods(from, to, carry, start == inquiry)
		carry = w.carried(from, to)
		from = to
	}
}

// clauseMoods gives each token of a clause its mood, where the clause before
// ended in one.
func (w *wisher) clauseMoods(from, to int, carry mood, asking bool) {
	first, now, any := carry, carry, false
	polite, ago := w.within(from, to, kPlease), w.within(from, to, kPastTime)
	for i := from; i < to; i++ {
		if m, ok := w.sets(i, from, now, any); ok {
			if asking && m == told {
				m = inquiry
			}
			if !any || first == told && m == gone {
				first = m
			}
			now, any = m, true
		}
		w.mood[i] = now
	}
	if any { // what stands before the first word that sets a mood
		for i := from; i < to; i++ {
			if _, ok := w.sets(i, from, first, true); ok {
				break
			}
			w.mood[i] = first
		}
	}
	for i := from; i < to; i++ {
		switch {
		case w.mood[i] == asked:
		case polite && !(any && first == gone):
			w.mood[i] = asked
		case ago:
			w.mood[i] = gone
		}
	}
}

// carried is the mood a clause leaves to the next. "It is a plate for my door,
// in white": what is told ends with its clause.
func (w *wisher) carried(from, to int) mood {
	m := w.mood[to-1]
	if m == told && !w.lists(from, to) || m == supposed || m == gone && w.toks[to-1].low == ":" {
		return bare
	}
	return m
}

// lists says whether a clause that tells what a thing has goes on in the next:
// "it has six legs, two wings".
func (w *wisher) lists(from, to int) bool {
	if !w.within(from, to, kHaving) || to+1 >= len(w.toks) || w.toks[to].low != "," {
		return false
	}
	_, n := w.number(to + 1)
	if n == 0 {
		n = w.many(to+1, kArticle)
	}
	after := to + 1 + n
	return n > 0 && w.noun(after, len(w.toks)) && !w.is(after, kCopyWord, kPieces, kUnitMM, kUnitCM, kUnitInch)
}

// inquires says whether a question is for knowledge, not for a print.
func (w *wisher) inquires(s saying) bool {
	if w.within(s.from, min(s.to, s.from+40), kPossible) { // would two be possible?
		return false
	}
	for i := s.from; i < s.to && i < s.from+4; i++ {
		if w.is(i, kWant) {
			return false
		}
		if w.is(i, kAsking) {
			return true
		}
	}
	for i := max(s.from, s.to-6); i < s.to; i++ {
		if n := w.many(i, kTag); n > 0 && i+n == s.to-1 && i > s.from && w.toks[i-1].low == "," {
			return true
		}
	}
	return false
}

// sets tells the mood a token sets, if it does.
func (w *wisher) sets(i, from int, now mood, any bool) (mood, bool) {
	subject := i > from && w.is(i-1, kSubject)
	switch {
	case w.is(i, kWant), w.is(i, kWished, kMust) && now != inquiry:
		return asked, true
	case w.is(i, kPlease):
		return bare, false
	case w.is(i, kEnclose):
		return bare, true
	case w.is(i, kToPrint) && (now == told || now == bare):
		return asked, true
	case w.is(i, kHours) && (subject || i-1 > from && w.is(i-2, kSubject) && w.is(i-1, kState, kOther)):
		return theirs, true
	case w.is(i, kTelling) && now != asked, w.is(i, kTold) && i > from && now != asked && w.spoken(i, from):
		return told, true
	case w.is(i, kPast):
		return gone, true
	case w.is(i, kIf):
		return supposed, true
	case w.is(i, kParticiple):
		return gone, w.within(max(from, i-3), i, kAux)
	case w.is(i, kDone) && w.over(i, from, now, any):
		return gone, true
	case w.is(i, kDone):
		return bare, false
	case w.is(i, kHaving, kState) && (now != asked || !any && i > from && w.before(i, kSubject) > 0):
		return told, true
	case w.is(i, kProduce) && subject && now != asked:
		return told, true
	case w.is(i, kProduce) && !w.is(i, kAsking) && (i == from || !any):
		return asked, true
	}
	return bare, false
}

// spoken says whether somebody, or "have", stands before a word of telling.
func (w *wisher) spoken(i, from int) bool {
	return w.is(i-1, kSubject, kAux, kHaving) || i-1 > from && w.is(i-2, kAux, kHaving)
}

// over says whether a participle tells what is over: "I printed", "we have it
// broken"; not "I'd like it printed".
func (w *wisher) over(i, from int, now mood, any bool) bool {
	if i > from && w.is(i-1, kSubject) {
		return now != asked || !w.is(i-1, kThese)
	}
	for k := i - 1; k >= max(from, i-3); k-- {
		if w.is(k, kHaving) && now == told {
			return true
		}
		if !w.is(k, kOther, kNoVerb, kPastTime) {
			break
		}
	}
	return !any && i > from
}
