package mail

// How big the part is to be. A measure is the part's only where the words around
// it say so: beside a hole, a rod or a wall it is theirs, behind "for" or "onto"
// it is another thing's, before "bigger" a difference, behind "at most" a limit.
// Rejected: taking the largest measure of a letter, which is often a shelf's.

// sizing is a measure that is judged.
type sizing struct {
	measure
	start, end int    // of its clause
	axis       string // the side it is of
	behind     int    // where the words that follow begin
	named      bool   // its side is told behind it
	round      bool   // a diameter
	ours       bool   // the measure before, in the same sentence, was the part's
}

func (w *wisher) sizes() {
	ours, in, last := true, -1, -1
	for i := 0; i < len(w.toks); i++ {
		m, ok := w.measureAt(i)
		if !ok {
			continue
		}
		w.use(m.from, m.to)
		w.measured[m.from] = m.to
		if s := w.toks[i].sentence; s != in {
			ours, in = true, s
		}
		z := sizing{measure: m, behind: m.to, ours: ours}
		z.start, z.end = w.clauseOf(m.from)
		joined := ours && last >= 0 && last == m.from-1 && w.before(m.from, kJoin) > 0 // 22 mm wide and 8 mm high
		ours = w.partsOwn(&z) || joined && w.wished(m.from)
		last = z.to
		if ours && m.mm >= 1 && m.mm <= 2000 {
			w.add(SizeField, plain(m.mm), z.axis, m.from, z.to)
		}
		i = m.to - 1
	}
}

// partsOwn says whether a measure is the part's.
func (w *wisher) partsOwn(z *sizing) bool {
	m := w.mood[z.from]
	if w.denied[z.from] && w.before(z.from, kYet) == 0 || !w.wished(z.from) && m != told {
		return false
	}
	if w.othersBehind(z) || w.limited(z.from, z.start) {
		return false
	}
	if m != asked && w.is(z.to, kNow) { // it is 3 cm now
		return false
	}
	be := w.before(z.from, kPart, kWished, kBe) > 0
	z.round = z.round && !be
	i := w.back(z.from, z.start, kAbout, kOf, kBe, kArticle, kJust)
	if i <= z.start+1 && w.toks[z.start].mark && w.before(z.start, kFeature) > 0 && !z.named { // for a rod, 6 mm
		return false
	}
	if i == z.start {
		return w.beginsClause(z, be)
	}
	if w.before(z.from, kThere) > 0 && m == asked && w.within(z.start, z.from, kProduce) {
		return true // print the file of last week at 10 cm
	}
	return w.ownBefore(z, i)
}

// othersBehind reads the words behind a measure, the side it is of among them,
// and says whether they make it another thing's.
func (w *wisher) othersBehind(z *sizing) bool {
	stop := w.sentenceOf(z.from).to
	after := z.to
	z.round = w.is(after, kRound, kAcross)
	if after+1 < stop && w.toks[after].low == "(" && w.side(after+1) { // 60 mm (tall)
		after++
	}
	if a, n := w.sideAt(after); n > 0 && !(after+n < stop && w.toks[after+n].low == ":") {
		z.axis, z.to, z.behind, z.named = a, after+n, after+n, true
		return w.noun(z.to, z.end) && w.featureIn(z.to, z.end) // "60 mm wide slot"
	}
	z.behind = after
	thread := w.is(after, kOf) && !w.toks[after].mark && !w.is(after, kBe) && w.noun(after+1, z.end) && !w.is(after+1, kSized, kOriginal) // 10 cm of thread
	return thread || w.is(after, kLimit) || w.is(after, kDiffers) && !w.is(after, kOf) || w.featureIn(after, z.end)
}

// limited says whether a measure is a limit, or what another is compared with.
func (w *wisher) limited(i, start int) bool {
	return w.before(i, kLimit, kThan) > 0 || w.before(w.back(i, start, kAbout, kArticle), kLimit, kThan) > 0
}

// beginsClause judges a measure with no word before it in its clause.
func (w *wisher) beginsClause(z *sizing, be bool) bool {
	part := w.before(z.from, kPart, kWished) > 0
	switch {
	case !part && !z.ours && w.toks[z.from].clause > 0 && !z.named:
		return false
	case w.mood[z.from] == told && !part && !z.named:
		return false
	}
	return !z.round || z.ours && w.mood[z.from] == bare
}

// ownBefore goes back over the words before a measure, to the first that tells
// whose it is.
func (w *wisher) ownBefore(z *sizing, i int) bool {
	m := w.mood[z.from]
	for k, steps := i, 0; k > z.start && steps < 8; steps++ {
		if n := w.before(k, kRound); n > 0 && k-n == z.start { // diameter 6 cm
			return true
		}
		if w.before(k, kFeature) > 0 && w.before(k, kSized, kTall, kWide, kDeep, kLong) == 0 {
			return false
		}
		if a, ok := w.sideBefore(k); ok {
			if w.before(k-1, kLimit) > 0 { // min height 3 mm
				return false
			}
			if !z.named {
				z.axis = a
			}
			return !w.foreign(k-1, z.start)
		}
		switch {
		case w.before(k, kSized) > 0:
			return true
		case w.before(k, kWished, kProduce, kResize) > 0:
			w.sideOf(z, k-w.before(k, kWished, kProduce, kResize))
			return !w.foreign(k-1, z.start) || w.before(k, kProduce) > 0
		case w.before(k, kWant, kMust) > 0:
			w.sideOf(z, k-w.before(k, kWant, kMust))
			return !z.round
		case w.before(k, kAt) > 0 && k == i:
			k -= w.before(k, kAt)
			continue
		case w.before(k, kBeside) > 0:
			return k == i && z.named && m == asked // sur 15 cm de haut
		case w.before(k, kPart) > 0:
			return m != told || k == i && z.named
		case w.before(k, kMine) > 0 && m != asked:
			return false
		}
		k -= max(1, w.before(k, kAbout, kOf, kBe, kArticle, kAt))
	}
	attributive := !z.named && w.noun(z.behind, z.end)
	apposed := z.ours && m == bare && i == z.start+1 && w.toks[z.start].mark // ten tokens, 3 cm in diameter
	return m != told && !(attributive && m != asked) && (!z.round || apposed)
}

// sideOf takes the side told before a verb: "the height should be".
func (w *wisher) sideOf(z *sizing, k int) {
	if a, ok := w.sideBefore(k); ok && !z.named {
		z.axis = a
	}
}

// foreign says whether a side belongs to another thing: "for a pipe of height".
func (w *wisher) foreign(i, from int) bool {
	for k := i; k >= from && k > i-6; k-- {
		if w.is(k, kFeature) && !w.is(k, kSized, kTall, kWide, kDeep, kLong) || w.is(k, kMine) && w.mood[i] != asked {
			return true
		}
	}
	return false
}
