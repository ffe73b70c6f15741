package mail

// Shares in percent, and words such as "twice the size": how big, how full.
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
		if k := w.many(i+n, kFolds); n > 0 && k > 0 && v > 0 && v <= 20 && w.asks(i) && w.free(i, i+n) {
			w.add(ScaleField, plain(v), "", i, i+n+k)
			continue
		}
		if k := w.many(i+n, kLess); n > 0 && k > 0 && v > 1 && v <= 20 && w.asks(i) && w.free(i, i+n) {
			w.add(ScaleField, plain(1/v), "", i, i+n+k)
			continue
		}
		p := w.many(i+n, kPercent)
		if n > 0 && p == 0 && w.factor(i, n, v) {
			continue
		}
		if n == 0 || p == 0 || i > 0 && w.toks[i].glued && w.toks[i-1].digits {
			continue
		}
		w.percent(i, i+n+p, v)
	}
}

// factor reads "scale: 1.5", "infill: 20".
func (w *wisher) factor(i, n int, v float64) bool {
	s := w.sentenceOf(i)
	if !w.wished(i) || !w.free(i, i+n) || i+n < s.to && !w.toks[i+n].mark && !w.is(i+n, kOther, kPlease) || i+n < s.to && w.toks[i+n].glued {
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

// solid reads "solid please", "print it solid", "remplissage plein".
func (w *wisher) solid(i int) {
	n := w.many(i, kSolid)
	if n == 0 || !w.wished(i) {
		return
	}
	from, end := w.clauseOf(i)
	after := w.skip(i+n, end, kInfill)
	stands := after >= end || w.toks[after].mark || w.is(after, kPlease, kBeside, kJoin)
	leads := i == from || w.before(i, kWished, kInfill, kProduce) > 0 || w.before(w.back(i, from, kOf, kBe), kInfill, kWished) > 0
	if after > i+n || stands && leads {
		w.add(InfillField, "100", "", i, after)
	}
}

// percent judges a share that stands at tokens from up to to.
func (w *wisher) percent(from, to int, v float64) {
	w.use(from, to)
	if w.ranged(from, 1) {
		return
	}
	start, end := w.clauseOf(from)
	if w.denied[from] || w.mood[from] == gone || w.mood[from] == theirs || w.mood[from] == inquiry {
		return
	}
	if n := w.many(to, kOriginal); n > 0 && n >= w.many(to, kInfill) {
		w.add(ScaleField, plain(v/100), "", from, to+n)
		return
	}
	if n := max(w.many(to, kInfill), w.many(to, kSolid)); n > 0 && to < end {
		if v <= 100 {
			w.add(InfillField, plain(v), "", from, to+n)
		}
		return
	}
	k := w.back(from, start, kOf, kAt, kAbout, kBe, kArticle)
	if n := w.before(k, kInfill); n > 0 {
		if v <= 100 {
			w.add(InfillField, plain(v), "", k-n, to)
		}
		return
	}
	if v < 1 || v > 2000 {
		return
	}
	by := func(sign float64, from, to int) {
		if f := 1 + sign*v/100; f > 0 {
			w.add(ScaleField, plain(f), "", from, to)
		}
	}
	// "20 % bigger", "enlarge by 20 %"
	if n := w.many(to, kBigger); n > 0 {
		by(1, from, to+n)
		return
	}
	if n := w.many(to, kSmaller); n > 0 {
		by(-1, from, to+n)
		return
	}
	if n := w.before(from, kGrow); n > 0 {
		by(1, from-n, to)
		return
	}
	if n := w.before(from, kShrink); n > 0 {
		by(-1, from-n, to)
		return
	}
	k = w.back(from, start, kAt, kOf, kAbout, kPart, kArticle, kMine, kThese, kSized)
	if n := w.before(k, kResize); n > 0 {
		w.add(ScaleField, plain(v/100), "", k-n, to)
		return
	}
	for j := k; j < from; j++ {
		if n := w.many(j, kResize); n > 0 && j+n <= from {
			w.add(ScaleField, plain(v/100), "", j, to)
			return
		}
	}
	// "print the dragon at 50 %"
	if w.before(from, kAt) > 0 && w.mood[from] == asked {
		for j := from - 1; j >= start && j > from-8; j-- {
			if w.is(j, kProduce, kResize) {
				w.add(ScaleField, plain(v/100), "", j, to)
				return
			}
		}
	}
}
