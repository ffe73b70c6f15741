package mail

import (
	"slices"
	"sort"
	"strings"
	"unicode"
)

// A name is a colour, a material or a branch of the library's, where the text
// has it.
type name struct {
	field    Field
	value    string
	from, to int
	weak     bool // also a word of its own: "clear", "or"
}

// names finds them all, the longest first, whatever is then made of them.
func (w *wisher) names() {
	byFirst := map[string][]spelling{}
	put := func(s spelling) {
		if len(s.words) > 0 {
			first := s.words[0]
			byFirst[first] = append(byFirst[first], s)
			if f := folded(first); f != first && len(f) > 3 { // "doree"
				byFirst[f] = append(byFirst[f], s)
			}
		}
	}
	for _, s := range w.spellings() {
		put(s)
	}
	for first := range byFirst {
		sort.SliceStable(byFirst[first], func(i, j int) bool { return len(byFirst[first][i].words) > len(byFirst[first][j].words) })
	}
	w.namedAt = map[int]int{}
	for i := 0; i < len(w.toks); i++ {
		if w.toks[i].mute {
			continue
		}
		if n := w.many(i, kIdiom); n > 0 {
			i += n - 1
			continue
		}
		end := w.sentenceOf(i).to
		longest := 0
		for _, key := range []string{w.toks[i].low, w.toks[i].fold} {
			if key == "" || key == w.toks[i].low && longest > 0 {
				continue
			}
			for _, s := range byFirst[key] {
				n := len(s.words)
				if n < longest || i+n > end || !w.speaks(i, s.language) || !fits(s.words, w.toks[i:i+n]) {
					continue
				}
				if w.toks[i].glued && i > 0 && !w.toks[i-1].mark || i+n < end && w.toks[i+n].glued && !w.toks[i+n].mark && !w.is(i+n, kColoured) && !clitics[w.toks[i+n].low] { // Rose-Marie
					continue
				}
				longest = n
				w.namedAt[i] = len(w.named)
				w.named = append(w.named, name{s.field, s.value, i, i + n, s.weak})
			}
			if key == w.toks[i].fold {
				break
			}
		}
		if longest > 0 {
			i += longest - 1
		}
	}
}

type spelling struct {
	words    []string
	field    Field
	value    string
	language string // empty: any
	weak     bool
}

// spellings are all the words for what is in stock.
func (w *wisher) spellings() []spelling {
	var out []spelling
	known := map[string]bool{}
	for _, c := range w.stock.Colours {
		low := strings.ToLower(strings.TrimSpace(c))
		if len([]rune(low)) < 2 {
			continue
		}
		out = append(out, spelling{wordsOf(low), ColourField, c, "", slices.ContainsFunc(lexicons, func(x *lexicon) bool { return x.weak[low] })})
		for _, x := range lexicons {
			for word, names := range x.colours {
				for _, n := range names {
					if n == low || foreignName(low, n) {
						known[word] = true
						out = append(out, spelling{wordsOf(word), ColourField, c, x.code, x.weak[word]})
					}
				}
			}
		}
	}
	for _, x := range lexicons { // a colour that is not in stock is a colour still: "brown or white"
		for word := range x.colours {
			if !known[word] {
				out = append(out, spelling{wordsOf(word), ColourField, "", x.code, x.weak[word]})
			}
		}
	}
	for _, n := range sorted(w.stock.Materials) {
		weak := slices.ContainsFunc(lexicons, func(x *lexicon) bool { return x.weak[strings.ToLower(n)] })
		out = append(out, spelling{wordsOf(n), MaterialField, w.stock.Materials[n], "", weak})
		for _, x := range lexicons {
			for word, of := range x.materials {
				if strings.Fields(n + " -")[0] == of {
					out = append(out, spelling{wordsOf(word), MaterialField, w.stock.Materials[n], x.code, x.weak[word]})
				}
			}
		}
	}
	for _, n := range sorted(w.stock.Branches) {
		out = append(out, spelling{wordsOf(n), BranchField, w.stock.Branches[n], "", false})
	}
	sort.SliceStable(out, func(i, j int) bool { return strings.Join(out[i].words, " ") < strings.Join(out[j].words, " ") })
	return out
}

// foreignName says whether a spool's colour, written in another language, is
// the one of this English name.
func foreignName(low, english string) bool {
	for _, x := range lexicons {
		for _, n := range x.colours[low] {
			if n == english {
				return true
			}
		}
	}
	return false
}

func (w *wisher) speaks(i int, code string) bool {
	if code == "" {
		return true
	}
	for _, x := range w.sentenceOf(i).lex {
		if x.code == code {
			return true
		}
	}
	return len(w.hits[i]) == 0 // another language's word, and none of this one's
}

// nameAt is the name that begins at a token, if one does.
func (w *wisher) nameAt(i int) *name {
	if n, ok := w.namedAt[i]; ok {
		return &w.named[n]
	}
	return nil
}

func (w *wisher) isA(i int, f Field) bool {
	n := w.nameAt(i)
	return n != nil && n.field == f
}

// sorted gives the keys, longer ones first: "Larkmere North" before "Larkmere".
func sorted(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sort.Slice(out, func(i, j int) bool {
		if len(out[i]) != len(out[j]) {
			return len(out[i]) > len(out[j])
		}
		return out[i] < out[j]
	})
	return out
}

// proper says whether tokens are written as a person's or a place's name is:
// with a capital, in the midst of a sentence that is not all in capitals.
func (w *wisher) proper(from, to int) bool {
	if !w.toks[from].capital {
		return false
	}
	s := w.sentenceOf(from)
	if from == s.from || w.toks[from-1].low == ":" {
		return false
	}
	word := w.text[w.toks[from].from:w.toks[from].to]
	return strings.ContainsFunc(word, unicode.IsLower)
}
