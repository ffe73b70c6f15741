package mail

// A measure is a number and a unit of length. It is the part's only where the
// words around it say so: beside a hole, a rod or a wall it is theirs, behind
// "for" or "onto" it is another thing's, before "bigger" a difference.
type measure struct {
	from, to int
	mm       float64
}

func (w *wisher) sizes() {
	ours, in := true, -1 // whether the measure before, in the same sentence, was the part's
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
		axis, to, fits := w.judge(m, ours)
		ours = fits
		if fits && m.mm >= 1 && m.mm <= 2000 {
			w.add(SizeField, plain(m.mm), axis, m.from, to)
		}
		i = m.to - 1
	}
}

// measureAt reads "60 mm", "2 1/2 inches", "60 x 40 x 20 mm" (the longest).
func (w *wisher) measureAt(i int) (measure, bool) {
	v, n := w.number(i)
	if n == 0 || w.used[i] || i > 0 && w.toks[i].glued && !w.toks[i-1].mark && !w.timesSign(i-1) {
		return measure{}, false
	}
	if !w.toks[i].digits && v == 1 && w.before(i+n, kArticle) > 0 { // "un pouce" is a thumb too
		return measure{}, false
	}
	end := w.sentenceOf(i).to
	all, unit, at := []float64{v}, 0.0, i+n
	if w.before(i, kRange) > 0 && i-2 >= w.sentenceOf(i).from && w.numberEnds(i-1) {
		if _, k := w.unit(i+n, end); k > 0 { // "8 to 10 cm"
			w.use(i-2, i+n)
			return measure{}, false
		}
	}
	if u, k := w.unit(at, end); k > 0 {
		unit, at = u, at+k
	}
	for len(all) < 3 && at < end && w.timesSign(at) {
		v, n := w.number(at + 1)
		if n == 0 {
			break
		}
		u, k := w.unit(at+1+n, end)
		if k > 0 {
			unit = u
		} else if unit > 0 { // "60 mm x 2"
			break
		}
		all = append(all, v)
		at += 1 + n + k
	}
	m := measure{from: i, to: at}
	if unit == 0 {
		if len(all) > 1 { // "2 x 14" is neither a size nor a count
			w.use(i, at)
		}
		return measure{}, false
	}
	for _, v := range all {
		m.mm = max(m.mm, v*unit)
	}
	// A range leaves open which.
	if j := at; j < end && w.is(j, kUnitOther) && w.toks[j].glued {
		return measure{}, false
	}
	return m, true
}

func (w *wisher) timesSign(i int) bool { return w.is(i, kTimes) }

// unit reads a unit of length: mm in it, and its tokens.
func (w *wisher) unit(i, end int) (float64, int) {
	if i >= end {
		return 0, 0
	}
	t := w.toks[i]
	n := 0
	u := 0.0
	for _, c := range []struct {
		k  kind
		mm float64 // ISO 80000-3: the inch is 25.4 mm exactly, the foot 304.8
	}{{kUnitMM, 1}, {kUnitCM, 10}, {kUnitInch, 25.4}, {kUnitFoot, 304.8}} {
		if k := w.many(i, c.k); k > 0 {
			u, n = c.mm, k
		}
	}
	switch {
	case n == 0:
		return 0, 0
	case t.low == "\"" && !(t.glued && w.quotesBefore(i)%2 == 0):
		return 0, 0
	case t.low == "in":
		// "3 in red" is no size: the unit ends a clause, or a side is named.
		after := i + 1
		if !(after >= end || w.toks[after].mark || w.side(after) || w.timesSign(after) || w.is(after, kPlease)) {
			return 0, 0
		}
	}
	if i+n < end && w.toks[i+n].glued && (w.toks[i+n].low == "³" || w.toks[i+n].low == "²" || w.toks[i+n].low == "/") {
		return 0, 0
	}
	return u, n
}

func (w *wisher) quotesBefore(i int) int {
	n := 0
	for k := max(w.sentenceOf(i).from, i-200); k < i; k++ {
		if w.toks[k].low == "\"" {
			n++
		}
	}
	return n
}

func (w *wisher) side(i int) bool { return w.is(i, kTall, kWide, kDeep, kLong, kAcross, kRound) }

// sideAt names the side told at a token.
func (w *wisher) sideAt(i int) (string, int) {
	for _, s := range []struct {
		k    kind
		name string
	}{{kTall, "tall"}, {kDeep, "deep"}, {kWide, "wide"}, {kAcross, "wide"}, {kRound, ""}, {kLong, ""}} {
		if n := w.many(i, s.k); n > 0 {
			return s.name, n
		}
	}
	return "", 0
}

// judge says whether a measure is the part's, of which side, and where its
// words end.
func (w *wisher) judge(m measure, ours bool) (axis string, to int, ok bool) {
	to = m.to
	from, end := w.clauseOf(m.from)
	if w.denied[m.from] && w.before(m.from, kYet) == 0 || !w.wished(m.from) && w.mood[m.from] != told {
		return "", to, false
	}
	named := false
	after := m.to
	if after+1 < w.sentenceOf(m.from).to && w.toks[after].low == "(" && w.side(after+1) { // 60 mm (tall)
		after++
	}
	if a, n := w.sideAt(after); n > 0 && !(after+n < w.sentenceOf(m.from).to && w.toks[after+n].low == ":") {
		axis, to, named = a, after+n, true
		after = to
		// "60 mm wide slot": the side of another thing.
		if h := w.noun(after, end); h && w.featureIn(after, end) {
			return "", to, false
		}
	} else {
		if w.is(after, kOf) && !w.toks[after].mark && !w.is(after, kBe) && w.noun(after+1, end) && !w.is(after+1, kSized, kOriginal) { // 10 cm of thread
			return "", to, false
		}
		if w.is(after, kLimit) {
			return "", to, false
		}
		if w.is(after, kDiffers) && !w.is(after, kOf) {
			return "", to, false
		}
		if w.featureIn(after, end) {
			return "", to, false
		}
	}
	round := w.is(m.to, kRound) || w.is(m.to, kAcross)
	attributive := !named && w.noun(after, end)

	// What stands before.
	i := w.back(m.from, from, kAbout, kOf, kBe, kArticle, kJust)
	for _, h := range [][]kind{{kLimit}, {kThan}} {
		if w.before(m.from, h...) > 0 || w.before(w.back(m.from, from, kAbout, kArticle), h...) > 0 {
			return "", to, false
		}
	}
	if i == from {
		if n := w.before(m.from, kPart, kWished); n == 0 && !ours && w.toks[m.from].clause > 0 && !named {
			return "", to, false
		}
		if n := w.before(m.from, kPart, kWished, kBe); w.mood[m.from] == told && n == 0 && !named {
			return "", to, false
		}
		return axis, to, !round || w.before(m.from, kPart, kWished, kBe) > 0
	}
	if w.before(m.from, kThere) > 0 && w.mood[m.from] == asked && w.within(from, m.from, kProduce) {
		return axis, to, true // print the file of last week at 10 cm
	}
	steps := 0
	for k := i; k > from && steps < 8; steps++ {
		if w.before(k, kFeature) > 0 && w.before(k, kSized, kTall, kWide, kDeep, kLong) == 0 {
			return "", to, false
		}
		for _, s := range []struct {
			k    kind
			name string
		}{{kTall, "tall"}, {kDeep, "deep"}, {kWide, "wide"}, {kLong, ""}} {
			if w.before(k, s.k) > 0 {
				if !named {
					axis = s.name
				}
				if w.foreign(k-1, from) {
					return "", to, false
				}
				return axis, to, true
			}
		}
		if w.before(k, kSized) > 0 {
			return axis, to, true
		}
		if w.before(k, kWished, kProduce, kResize) > 0 {
			return axis, to, !w.foreign(k-1, from) || w.before(k, kProduce) > 0
		}
		if w.before(k, kWant, kMust) > 0 {
			return axis, to, !round
		}
		if w.before(k, kAt) > 0 && k == i {
			k -= w.before(k, kAt)
			continue
		}
		if w.before(k, kBeside) > 0 {
			return "", to, false
		}
		if w.before(k, kPart) > 0 {
			return axis, to, w.mood[m.from] != told || k == i && named
		}
		if w.before(k, kMine) > 0 && w.mood[m.from] != asked {
			return "", to, false
		}
		n := max(1, w.before(k, kAbout, kOf, kBe, kArticle, kAt))
		k -= n
	}
	if w.mood[m.from] == told || attributive && w.mood[m.from] != asked || round {
		return "", to, false
	}
	return axis, to, true
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

// feature says whether a word names a feature. The first half of a compound
// ("door-mat") does not.
func (w *wisher) feature(i int) bool {
	n := w.many(i, kFeature)
	return n > 1 || n == 1 && !(i+1 < len(w.toks) && w.toks[i+1].glued && !w.toks[i+1].mark)
}

// noun says whether a word that is none of the small ones stands at i.
func (w *wisher) noun(i, end int) bool {
	if i >= end || w.toks[i].mark || w.toks[i].digits || w.toks[i].low == "\x00" || w.inside[i] {
		return false
	}
	return !w.is(i, kOther, kPlease, kArticle, kBe, kWant, kMust, kState, kPast)
}

// featureIn says whether the words that follow, up to the first small word,
// name a feature: "5 mm steel rod".
func (w *wisher) featureIn(i, end int) bool {
	if i < end && (w.is(i, kOf) || w.toks[i].low == "in" || w.toks[i].low == "en") && w.is(i+1, kFeature) {
		return !w.is(i+1, kSized)
	}
	for k := i; k < end && k < i+4; k++ {
		if w.feature(k) {
			return true
		}
		if !w.noun(k, end) {
			return false
		}
	}
	return false
}
