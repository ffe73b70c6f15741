package mail

// How many times its size the part is to be: "at 75 %", "20 % bigger", "a
// quarter smaller", "twice the size", "scale: 1.5", "as big as possible".
// Rejected: a share without a word for size or filling beside it; batteries and
// certainties come in shares too.

func (w *wisher) scales() {
	for i := range w.toks {
		if w.used[i] || w.toks[i].mute {
			continue
		}
		if n := w.many(i, kLargest); n > 0 && w.wished(i) {
			w.add(LargestField, "yes", "", i, i+n)
			continue
		}
		w.fold(i)
		w.solid(i)
		v, n := w.number(i)
		if n > 0 && (w.times(i, n, v) || w.factor(i, n, v)) {
			continue
		}
		if p := w.many(i+n, kPercent); n > 0 && p > 0 && !(i > 0 && w.toks[i].glued && w.toks[i-1].digits) {
			w.percent(i, i+n+p, v)
		} else if v, m := w.share(i); m > n && w.wished(i) {
			w.grown(i, i+m, v)
		}
	}
}

// share reads "a quarter", as percent.
func (w *wisher) share(i int) (float64, int) {
	s := w.sentenceOf(i)
	for _, x := range s.lex {
		for n := 2; n > 0; n-- {
			if i+n <= s.to {
				if den := x.shares[w.spelled(i, i+n)]; den > 0 {
					return 100 / float64(den), n
				}
			}
		}
	}
	return 0, 0
}

// times reads "1.5 times the size", "3 fois plus petit".
func (w *wisher) times(i, n int, v float64) bool {
	if v > 20 || v <= 0 || !w.asks(i) || !w.free(i, i+n) {
		return false
	}
	if m := w.before(i-1, kSized); m > 0 && w.sign(i-1) && i+n >= w.sentenceOf(i).to { // size x2
		w.add(ScaleField, plain(v), "", i-1-m, i+n)
		return true
	}
	if k := w.many(i+n, kOriginal); k > 0 && v < 1 { // 3/4 size
		w.add(ScaleField, plain(v), "", i, i+n+k)
		return true
	}
	if k := w.many(i+n, kFolds); k > 0 {
		w.add(ScaleField, plain(v), "", i, i+n+k)
		return true
	}
	if k := w.many(i+n, kLess); k > 0 && v > 1 {
		w.add(ScaleField, plain(1/v), "", i, i+n+k)
		return true
	}
	return false
}

// factor reads "scale: 1.5", "infill: 20".
func (w *wisher) factor(i, n int, v float64) bool {
	s := w.sentenceOf(i)
	if w.is(i+n, kPercent) || !w.wished(i) || !w.free(i, i+n) || i+n < s.to && (!w.toks[i+n].mark && !w.is(i+n, kOther, kPlease) || w.toks[i+n].glued) {
		return false
	}
	start, _ := w.clauseOf(i)
	k := w.back(i, start, kOf, kAbout)
	if m := w.before(k, kScaleWord); m > 0 && v > 0 && v <= 10 && (k < i || w.is(k-m, kScaleWord) && m > 1) {
		w.add(ScaleField, plain(v), "", k-m, i+n)
		return true
	}
	if m := w.before(k, kInfill); m > 0 && v > 1 && v <= 100 && k < i && w.toks[i-1].low == ":" {
		w.add(InfillField, plain(v), "", k-m, i+n)
		return true
	}
	return false
}

// fold reads "half the size", "twice as big".
func (w *wisher) fold(i int) {
	for _, f := range []struct {
		k     kind
		value string
	}{{kHalf, "0.5"}, {kDouble, "2"}, {kTreble, "3"}} {
		n := w.many(i, f.k)
		if n == 0 || !w.asks(i) || !w.free(i, i+n) {
			continue
		}
		// "half the size of my phone" is no scale.
		if k := i + n; w.is(k, kOf) && w.is(k+1, kArticle, kMine) && !w.is(k, kOriginal) && !w.is(k+1, kOriginal) && !w.is(k+2, kOriginal, kPart) {
			continue
		}
		w.add(ScaleField, f.value, "", i, i+n)
	}
}

// asks is wished, or a sentence that begins so: "half the size it is now".
func (w *wisher) asks(i int) bool {
	return w.wished(i) || i == w.sentenceOf(i).from && w.mood[i] == told && !w.denied[i]
}

// percent judges a share that stands at tokens from up to to.
func (w *wisher) percent(from, to int, v float64) {
	w.use(from, to)
	if m := w.mood[from]; w.ranged(from, 1) || w.denied[from] || m == gone || m == theirs || m == inquiry {
		return
	}
	if n := w.many(to, kOriginal); n > 0 && n >= w.many(to, kInfill) {
		w.add(ScaleField, plain(v/100), "", from, to+n)
		return
	}
	if w.filled(from, to, v) || v < 1 || v > 2000 || w.grown(from, to, v) {
		return
	}
	w.resized(from, to, v)
}

// grown reads "20 % bigger", "enlarge by 20 %", "a bit bigger, say 10 %".
func (w *wisher) grown(from, to int, v float64) bool {
	start := w.sentenceOf(from).from
	k := w.back(from, start, kAbout, kJust)
	if k-1 > start && (w.toks[k-1].low == "," || w.toks[k-1].low == "(" || w.toks[k-1].low == "-") {
		k--
	}
	k = w.back(k, start, kPlease)
	for _, g := range []struct {
		behind, before kind
		sign           float64
	}{{kBigger, kGrow, 1}, {kSmaller, kShrink, -1}} {
		a, b := from, to
		switch {
		case w.is(to, g.behind):
			b = to + w.many(to, g.behind)
		case w.before(from, g.before) > 0:
			a = from - w.before(from, g.before)
		case w.before(k, g.behind) > 0 && w.wished(from) && w.is(to-1, kPercent):
			a = k - w.before(k, g.behind)
			if v > 50 { // smaller, 80 %
				w.add(ScaleField, plain(v/100), "", a, b)
				return true
			}
		default:
			continue
		}
		if f := 1 + g.sign*v/100; f > 0 {
			w.add(ScaleField, plain(f), "", a, b)
		}
		return true
	}
	return false
}

// resized reads "scale it to 75 %", "print the dragon at 50 %".
func (w *wisher) resized(from, to int, v float64) {
	start, _ := w.clauseOf(from)
	k := w.back(from, start, kAt, kOf, kAbout, kPart, kArticle, kMine, kThese, kSized)
	at := k - w.before(k, kResize)
	for j := k; at == k && j < from; j++ {
		if n := w.many(j, kResize); n > 0 && j+n <= from {
			at, k = j, from
			break
		}
	}
	if n := w.before(from, kThere); at == k && n > 0 && w.wished(from) { // at 110 %
		at, k = from-n, from
	}
	if start, end := w.clauseOf(from); at == k && w.wished(from) && v > 50 && from <= start+1 && w.skip(to, end, kAbout, kPlease) >= end && w.within(w.sentenceOf(from).from, start, kBigger, kSmaller, kResize) {
		at, k = from, to // bigger would be better: 150 %
	}
	if at < k {
		w.add(ScaleField, plain(v/100), "", at, to)
	}
}
