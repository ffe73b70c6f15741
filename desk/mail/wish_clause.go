package mail

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Idea: what a word means for a request hangs on the clause it stands in. "Two
// of these" is a wish in "I need two of these", none in "two of these broke".
// So a letter is cut into sentences and clauses, and each word gets a mood:
// that of the last word before it, in its clause, that sets one; else of the
// first behind it; else that in which the clause before ended. A rule that
// cannot tell says nothing.
type mood int

const (
	bare     mood = iota // no verb: "Two, in red."
	asked                // "I need", "please"
	told                 // "is", "I have": how things are
	gone                 // "printed", "broke": how things were
	theirs               // "you open": the library's ways
	inquiry              // "does PLA melt?"
	supposed             // "if you have only red"
)

type hit struct {
	kind kind
	n    int // tokens
}

type saying struct {
	from, to int // tokens
	question bool
	lex      []*lexicon
	needed   bool // tells a need, or an event
}

// settle parts the text into sentences, and drops the marks that only part.
func (w *wisher) settle() {
	raw := tokens(w.text)
	lines := linesOf(raw)
	w.quieten(raw, lines)
	for n, l := range lines {
		for i := l[0]; i < l[1]; i++ {
			t := raw[i]
			if t.low == "|" || t.low == "-" && !t.glued && i > l[0] && i <= l[0]+3 && i+1 < l[1] && !raw[i+1].glued && begins(raw[l[0]:l[1]], kLabels) == i-l[0] {
				t.low = ":" // "Copies - 3"
			}
			last := i+1 == l[1]
			switch {
			case t.low == ".", t.low == "!", t.low == "?", t.low == ";", t.low == "•":
				ends := t.low != "." || last || !raw[i+1].glued && !(i > l[0] && abbreviated(raw, i, l[0]))
				if k := len(w.toks); ends && k > 0 {
					if t.low == "?" {
						w.toks = append(w.toks, t)
						k++
					}
					w.toks[k-1].breaks = true
				}
				continue
			}
			if last && (n+1 == len(lines) || ended(w.text, raw, l, lines[n+1])) {
				t.breaks = true
			}
			w.toks = append(w.toks, t)
		}
		// A line that ends in a mark that was dropped.
		if k := len(w.toks); k > 0 && l[1] > l[0] && raw[l[1]-1].mark && n+1 < len(lines) && ended(w.text, raw, l, lines[n+1]) {
			w.toks[k-1].breaks = true
		}
	}
}

// linesOf gives the tokens of each line; an empty line has none.
func linesOf(raw []token) [][2]int {
	var out [][2]int
	from := 0
	for i, t := range raw {
		if t.low == "\n" {
			out = append(out, [2]int{from, i})
			from = i + 1
		}
	}
	return append(out, [2]int{from, len(raw)})
}

// Short words that are written with a point (CUSTOM).
var points = map[string]bool{"mr": true, "mrs": true, "ms": true, "dr": true, "st": true, "mme": true, "mlle": true, "m": true, "approx": true, "env": true, "max": true, "min": true, "qty": true, "qté": true, "ca": true, "diam": true, "dim": true, "tel": true, "tél": true, "no": true, "nr": true}

func abbreviated(raw []token, i, from int) bool {
	before, after := raw[i-1], raw[i+1]
	if points[before.low] {
		return before.low != "no" && before.low != "min" && before.low != "max" || after.digits
	}
	return before.low == "in" && !after.capital && i-1 > from && raw[i-2].digits || len(before.low) == 1 && before.capital
}

// ended says whether a line was ended on purpose, not only for want of room: a
// program that breaks lines does it where the next word would not fit.
func ended(text string, raw []token, l, following [2]int) bool {
	if l[0] == l[1] || following[0] == following[1] {
		return true
	}
	line := text[raw[l[0]].from:raw[l[1]-1].to]
	first := raw[following[0]]
	if first.low == "-" || first.low == "*" || first.low == "•" || first.digits && following[0]+1 < following[1] && raw[following[0]+1].low == ")" {
		return true
	}
	if following[0]+1 < following[1] && raw[following[0]+1].low == ":" {
		return true
	}
	return utf8.RuneCountInString(line) < 50
}

// sentences finds where each begins and ends, and what language it is in.
func (w *wisher) sentences() {
	w.hits, w.ends = make([][]hit, len(w.toks)), make([][]hit, len(w.toks))
	total := make([]int, len(lexicons))
	var scores [][]int
	for from := 0; from < len(w.toks); {
		to := from
		for to < len(w.toks) && !w.toks[to].breaks {
			to++
		}
		to = min(to+1, len(w.toks))
		s := saying{from: from, to: to, question: w.toks[to-1].low == "?"}
		score := make([]int, len(lexicons))
		for i := from; i < to; i++ {
			w.toks[i].sentence = len(w.said)
			hit, known := make([]bool, len(lexicons)), 0
			for n, x := range lexicons {
				if hit[n] = x.knows(w.toks[i:to]); hit[n] {
					known++
				}
			}
			if known == 1 {
				score[slices.Index(hit, true)]++
				total[slices.Index(hit, true)]++
			}
		}
		w.said = append(w.said, s)
		scores = append(scores, score)
		from = to
	}
	letter := best(total)
	for n := range w.said {
		// Words of two languages in one sentence: both are read.
		score := scores[n]
		if letter >= 0 {
			score[letter]++
		}
		if b := best(score); b >= 0 {
			for k, x := range lexicons {
				if k == b || score[k] > 1 {
					w.said[n].lex = append(w.said[n].lex, x)
				}
			}
		} else {
			w.said[n].lex = lexicons
		}
	}
}

// best is the one highest score, -1 where none is.
func best(score []int) int {
	at, most, tied := -1, 0, false
	for i, s := range score {
		if s > most {
			at, most, tied = i, s, false
		} else if s == most {
			tied = true
		}
	}
	if tied {
		return -1
	}
	return at
}

// lookup finds the words and phrases the tokens begin with.
func (x *lexicon) lookup(toks []token, found func(n int, kinds []kind)) {
	t := toks[0]
	if t.mute || t.digits || t.low == "\x00" {
		return
	}
	any := false
	for _, key := range []string{t.low, t.fold} {
		if key == "" || key == t.low && any {
			continue
		}
		for _, p := range x.phrases[key] {
			if len(p.words) <= len(toks) && fits(p.words, toks) {
				any = true
				found(len(p.words), p.kinds)
			}
		}
		if t.fold == t.low {
			break
		}
	}
	if !any && !t.mark && x.colours[t.low] == nil {
		for n := min(6, len(t.low)-1); n > 0; n-- {
			if k := x.ends[t.low[len(t.low)-n:]]; k != nil {
				found(1, k)
				return
			}
		}
	}
}

// knows says whether a word is one of the language's.
func (x *lexicon) knows(toks []token) bool {
	any := x.colours[toks[0].low] != nil && !toks[0].mute
	x.lookup(toks, func(int, []kind) { any = true })
	return any
}

// begins tells how long a phrase of a kind is that the tokens begin with, in
// any language.
func begins(toks []token, k kind) int {
	most := 0
	for _, x := range lexicons {
		x.lookup(toks, func(n int, kinds []kind) {
			if slices.Contains(kinds, k) {
				most = max(most, n)
			}
		})
	}
	return most
}

func fits(words []string, toks []token) bool {
	for i, word := range words {
		if !toks[i].same(word) {
			return false
		}
	}
	return true
}

// classify gives every token its kinds, clause and mood.
func (w *wisher) classify() {
	w.mood = make([]mood, len(w.toks))
	w.denied, w.inside = make([]bool, len(w.toks)), make([]bool, len(w.toks))
	for n := range w.said {
		s := &w.said[n]
		for _, x := range s.lex {
			hidden := s.from
			for i := s.from; i < s.to; i++ {
				if i < hidden {
					w.inside[i] = true
					continue
				}
				x.lookup(w.toks[i:s.to], func(n int, kinds []kind) {
					if hides(kinds) {
						hidden = max(hidden, i+n)
					}
					for _, k := range kinds {
						w.hits[i] = append(w.hits[i], hit{k, n})
						w.ends[i+n-1] = append(w.ends[i+n-1], hit{k, n})
					}
				})
			}
		}
		clause := 0
		for i := s.from; i < s.to; i++ {
			if i > s.from && w.opens(i) {
				clause++
			}
			w.toks[i].clause = clause
			s.needed = s.needed || w.is(i, kNeed)
		}
		w.moods(*s)
		w.denials(*s)
	}
}

// Phrases of these kinds are no more than the sum of their words, which are
// therefore looked up too: "for the" holds an article. Any other phrase hides
// what is in it: there is no denial in "no later than".
var loose = []kind{kGoTo, kInColour, kOnDay, kOfThese, kBeside, kDayBefore, kThere, kAbout, kGiven, kChoose, kClock, kOther, kFine}

func hides(kinds []kind) bool {
	return slices.ContainsFunc(kinds, func(k kind) bool { return !slices.Contains(loose, k) })
}

// opens says whether a clause begins at a token.
func (w *wisher) opens(i int) bool {
	switch w.toks[i].low {
	case ",", "(", ")":
		return true
	case "-":
		return !w.toks[i].glued
	}
	if w.is(i, kTurn) || w.is(i, kLink) {
		return !w.toks[i-1].mark
	}
	if w.is(i, kJoin) && i+1 < len(w.toks) {
		return w.is(i+1, kSubject) || w.is(i+1, kWant, kMust) || w.is(i+1, kTurn) || w.is(i+1, kPast) || w.is(i+1, kProduce)
	}
	return false
}

// is tells how many tokens from i on are of a kind: none, or a word or phrase.
func (w *wisher) many(i int, k kind) int {
	if i < 0 || i >= len(w.toks) {
		return 0
	}
	most := 0
	for _, h := range w.hits[i] {
		if h.kind == k {
			most = max(most, h.n)
		}
	}
	return most
}

func (w *wisher) is(i int, kinds ...kind) bool {
	for _, k := range kinds {
		if w.many(i, k) > 0 {
			return true
		}
	}
	return false
}

// moods gives each token of a sentence its mood.
func (w *wisher) moods(s saying) {
	carry := bare
	if s.question && w.inquires(s) {
		carry = inquiry
	}
	start := carry
	for from := s.from; from < s.to; {
		to := from + 1
		for to < s.to && w.toks[to].clause == w.toks[from].clause {
			to++
		}
		if w.is(from, kTurn) || from+1 < to && w.is(from+1, kTurn) {
			carry = start
		}
		first, now, any := carry, carry, false
		polite, ago := false, false
		for i := from; i < to; i++ {
			m, ok := w.sets(i, from, now, any)
			if ok && start == inquiry && m == told {
				m = inquiry
			}
			if ok {
				if !any || first == told && m == gone {
					first = m
				}
				now, any = m, true
			}
			w.mood[i] = now
			polite = polite || w.is(i, kPlease)
			ago = ago || w.is(i, kPastTime)
		}
		for i := from; i < to; i++ {
			switch {
			case polite && w.mood[i] != asked && !(any && first == gone):
				w.mood[i] = asked
			case ago && w.mood[i] != asked:
				w.mood[i] = gone
			}
		}
		if any { // what stands before the first word that sets a mood
			for i := from; i < to; i++ {
				if _, ok := w.sets(i, from, first, true); ok {
					break
				}
				w.mood[i] = first
				if polite && first != gone {
					w.mood[i] = asked
				}
			}
		}
		// "It is a plate for my door, in white": what is told ends with its clause.
		if carry = w.mood[to-1]; carry == told {
			carry = bare
		}
		from = to
	}
}

// inquires says whether a question is for knowledge, not for a print.
func (w *wisher) inquires(s saying) bool {
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
	switch {
	case w.is(i, kWant), w.is(i, kWished, kMust) && now != inquiry:
		return asked, true
	case w.is(i, kPlease):
		return bare, false
	case w.is(i, kEnclose):
		return bare, true
	case w.is(i, kToPrint) && (now == told || now == bare):
		return asked, true
	case w.is(i, kHours):
		return theirs, true
	case w.is(i, kPast):
		return gone, true
	case w.is(i, kIf):
		return supposed, true
	case w.is(i, kParticiple):
		for k := i - 1; k >= max(from, i-3); k-- {
			if w.is(k, kAux) {
				return gone, true
			}
		}
	case w.is(i, kDone):
		if i > from && w.is(i-1, kSubject) {
			return gone, true
		}
		for k := i - 1; k >= max(from, i-3); k-- {
			if w.is(k, kHaving) && now == told {
				return gone, true
			}
			if !w.is(k, kOther, kNoVerb, kPastTime) {
				break
			}
		}
		if !any && i > from {
			return gone, true
		}
	case w.is(i, kHaving) && now != asked, w.is(i, kState) && now != asked:
		return told, true
	case w.is(i, kProduce) && i > from && w.is(i-1, kSubject) && now != asked:
		return told, true
	case w.is(i, kProduce) && !w.is(i, kAsking) && (i == from || !any):
		return asked, true
	}
	return bare, false
}

// denials marks what a denial bears on.
func (w *wisher) denials(s saying) {
	for i := s.from; i < s.to; i++ {
		if w.is(i, kYet) {
			continue
		}
		verb, thing := w.many(i, kNoVerb), w.many(i, kNoThing)
		if verb+thing == 0 {
			continue
		}
		for k := i + max(verb, thing); k < s.to && w.toks[k].clause == w.toks[i].clause; k++ {
			if w.is(k, kTurn) || thing > 0 && (k > i+6 || w.is(k, kJoin) && !w.is(k, kEither)) {
				break
			}
			w.denied[k] = true
		}
	}
}

// quieten mutes what is nobody's wish: greetings, signatures, street
// addresses.
func (w *wisher) quieten(raw []token, lines [][2]int) {
	signed, lately, dashes, quoted := false, false, false, false
	for n, l := range lines {
		if l[0] == l[1] {
			continue
		}
		begins := func(k kind) int { return begins(raw[l[0]:l[1]], k) }
		shouted(raw[l[0]:l[1]], w.text)
		if raw[l[0]].low == ">" || quoted {
			mute(raw[l[0]:l[1]])
			continue
		}
		if n+2 < len(lines) && l[1]-l[0] > 1 && begins(kHeadFrom) > 0 && raw[l[0]+1].low == ":" && w.heads(raw, lines[n+1:min(n+5, len(lines))]) {
			quoted = true
			mute(raw[l[0]:l[1]])
			continue
		}
		long := l[1]-l[0] > 9
		line := strings.TrimSpace(w.text[raw[l[0]].from:raw[l[1]-1].to])
		switch {
		case line == "--" || line == "-- ", begins(kSentFrom) > 0:
			signed, dashes = true, true
		case closes(raw[l[0]:l[1]], begins(kClosing)):
			signed, lately = true, true
			continue
		case begins(kPostscript) > 0 || lately && long && !dashes:
			signed = false // no signature follows: the thanks stood in the middle
		}
		lately = false
		if signed {
			mute(raw[l[0]:l[1]])
		}
		if n := begins(kGreeting); n > 0 {
			end := l[0]
			for end < l[1] && !(raw[end].mark && raw[end].low != "." && raw[end].low != "-") {
				end++
			}
			for i := l[0]; i < end; i++ {
				if i < l[0]+n || end-l[0] <= 5 || raw[i].capital {
					raw[i].mute = true
				}
			}
		}
		w.addresses(raw[l[0]:l[1]])
	}
}

// closes says whether a line is a closing phrase of n tokens and nothing more,
// but perhaps a name.
func closes(line []token, n int) bool {
	if n == 0 {
		return false
	}
	small := 0
	for _, t := range line[n:] {
		if !t.mark && !t.capital {
			small++
		}
	}
	return small <= 1 && len(line)-n <= 5
}

// shouted makes nothing of capitals in a line that has no other letters.
func shouted(line []token, text string) {
	for _, t := range line {
		if !t.mark && strings.ContainsFunc(text[t.from:t.to], unicode.IsLower) {
			return
		}
	}
	if len(line) > 2 {
		for i := range line {
			line[i].capital = false
		}
	}
}

// heads says whether lines are the head of a letter that is quoted under this
// one: sent, to, subject.
func (w *wisher) heads(raw []token, lines [][2]int) bool {
	n := 0
	for _, l := range lines {
		if l[1]-l[0] > 1 && begins(raw[l[0]:l[1]], kHead) > 0 && raw[l[0]+1].low == ":" {
			n++
		}
	}
	return n > 1
}

func mute(toks []token) {
	for i := range toks {
		toks[i].mute = true
	}
}

// addresses mutes "12 Green Street" and "12, rue des Lilas".
func (w *wisher) addresses(line []token) {
	of := func(i int, k kind) bool { return begins(line[i:], k) > 0 }
	for i, t := range line {
		if !t.digits || t.value != float64(int(t.value)) {
			continue
		}
		k := i + 1
		for k < len(line) && k < i+4 && (line[k].capital && !of(k, kStreetEnd) && !of(k, kStreetTop)) {
			k++
		}
		if k < len(line) && k > i+1 && line[k].capital && of(k, kStreetEnd) {
			mute(line[i : k+1])
			continue
		}
		k = i + 1
		for k < len(line) && k < i+3 && (line[k].low == "," || line[k].low == "bis" || line[k].low == "ter") {
			k++
		}
		if k < len(line) && of(k, kStreetTop) {
			end := k + 1
			for end < len(line) && end < k+7 && !line[end].mark {
				end++
			}
			mute(line[i:end])
		}
	}
}
