package mail

// supports reads whether supports are wished. One "support" may be a stand or
// a kindness: it counts with a denial or a verb right before it only.
func (w *wisher) supports() {
	for i := range w.toks {
		n := w.many(i, kSupport)
		if n == 0 || w.used[i] || w.mood[i] == gone || w.mood[i] == theirs || w.mood[i] == inquiry || w.mood[i] == supposed {
			continue
		}
		start, end := w.clauseOf(i)
		to := i + n
		several := w.is(i, kSupports)
		if w.is(to, kSoluble) {
			to += w.many(to, kSoluble)
		}
		lead := w.back(i, start, kArticle, kMore, kSoluble, kSnap)
		// soluble supports, supports solubles, supports that dissolve
		soluble, snap := false, false
		for k := max(start, i-2); k < min(w.sentenceOf(i).to, i+n+4); k++ {
			soluble = soluble || w.is(k, kSoluble)
			snap = snap || w.is(k, kSnap)
		}
		if w.before(lead, kNoThing, kWithIt, kNeedless) == 0 && w.before(i, kNoThing, kWithIt, kNeedless) > 0 {
			lead = i
		}
		if w.before(lead, kNoThing, kWithIt, kNeedless) == 0 && lead-1 > start && w.noun(lead-1, end) && several {
			if k := w.back(lead-1, start, kArticle); w.before(k, kWithIt) > 0 { // with tree supports
				lead = k
			}
		}
		no, with := w.before(lead, kNoThing), w.before(lead, kWithIt)
		if w.mood[i] == told && !w.needless(to, end) && no == 0 && !w.denied[i] {
			continue
		}
		if to < end && (w.toks[to].low == ":" || w.toks[to].low == "=") && to+1 < end {
			for _, v := range []struct {
				k     kind
				value string
			}{{kNone, "none"}, {kSoluble, "soluble"}, {kYes, "breakaway"}, {kSnap, "breakaway"}} {
				if m := w.many(to+1, v.k); m > 0 && w.free(i, to+1+m) {
					w.add(SupportsField, v.value, "", i, to+1+m)
					break
				}
			}
			continue
		}
		switch {
		case w.is(to, kOf, kBeside) && !several && to < end && !w.is(to, kPlease):
		case no > 0 && soluble:
		case no > 0 && (several || w.before(i, kArticle) == 0) && (w.mood[i] != told || several):
			w.add(SupportsField, "none", "", lead-no, to)
		case w.denied[i]:
			if w.before(lead, kNeedless) > 0 && several {
				w.add(SupportsField, "none", "", lead-w.before(lead, kNeedless), to)
			}
		case several && w.needless(to, end):
			w.add(SupportsField, "none", "", i, to)
		case soluble && (several || with > 0 || w.polite(i)):
			w.add(SupportsField, "soluble", "", lead, to)
		case (with > 0 || w.is(to, kPlease) && i == start) && (several || w.before(i, kArticle) == 0) && w.wished(i):
			w.add(SupportsField, "breakaway", "", lead-with, to)
		case snap && several && w.wished(i):
			w.add(SupportsField, "breakaway", "", lead, to)
		}
	}
}

// needless says whether supports are "not needed".
func (w *wisher) needless(i, end int) bool {
	for k := i; k < end && k < i+5; k++ {
		if w.is(k, kNeedy) && w.denied[k] || w.is(k, kUseless) {
			return true
		}
	}
	return false
}
