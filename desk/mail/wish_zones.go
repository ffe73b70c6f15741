package mail

import (
	"strings"
	"unicode"
)

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
			for end < l[1] && !(raw[end].mark && raw[end].low != "-" && !(raw[end].low == "." && points[raw[end-1].low])) {
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
