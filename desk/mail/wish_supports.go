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
		no, with := w.before(lead, kNoThing), w.before(lead, kWithIt)
		switch {
		case w.is(to, kOf, kBeside) && !several && to < end && !w.is(to, kPlease):
		case no > 0 && soluble:
		case no > 0 && (several || w.before(i, kArticle) == 0) && (w.mood[i] != told || several):
			w.add(SupportsField, "none", "", lead-no, to)
		case w.denied[i]:
			if w.before(lead, kNeedless) > 0 && several {
				w.add(SupportsField, "none", "", lead-w.before(lead, kNeedless), to)
			}
		case soluble && (several || with > 0):
			w.add(SupportsField, "soluble", "", lead, to)
		case (with > 0 || w.is(to, kPlease) && i == start) && (several || w.before(i, kArticle) == 0) && w.wished(i):
			w.add(SupportsField, "breakaway", "", lead-with, to)
		case snap && several && w.wished(i):
			w.add(SupportsField, "breakaway", "", lead, to)
		}
	}
}
