package mail

import (
	"strings"
	"unicode"
)

// quieten mutes what is nobody's wish: what is quoted, greetings, signatures,
// street addresses. Rejected: every short last line as a signature, since the
// colour is often put there.
func (w *wisher) quieten(raw []token, lines [][2]int) {
	signed, lately, dashes := false, false, false
	card := w.cardFrom(raw, lines)
	for n, l := range lines {
		if l[0] == l[1] {
			continue
		}
		line := raw[l[0]:l[1]]
		shouted(line, w.text)
		if line[0].low == ">" || n >= card {
			mute(line)
			continue
		}
		if n+2 < len(lines) && len(line) > 1 && begins(line, kHeadFrom) > 0 && line[1].low == ":" && w.heads(raw, lines[n+1:min(n+5, len(lines))]) {
			mute(raw[l[0]:]) // all below is the letter that is answered
			return
		}
		text := strings.TrimSpace(w.text[line[0].from:line[len(line)-1].to])
		switch {
		case text == "--", begins(line, kSentFrom) > 0:
			signed, dashes = true, true
		case closes(line, begins(line, kClosing)):
			signed, lately = true, true
			continue
		case begins(line, kPostscript) > 0 || lately && len(line) > 9 && !dashes:
			signed = false // no signature follows: the thanks stood in the middle
		}
		lately = false
		if signed {
			mute(line)
		}
		greeted(line)
		w.addresses(line)
	}
}

// greeted mutes a greeting and who is greeted.
func greeted(line []token) {
	n := begins(line, kGreeting)
	if n == 0 {
		return
	}
	end := 0
	for end < len(line) && !(line[end].mark && line[end].low != "-" && !(line[end].low == "." && points[line[end-1].low])) {
		end++
	}
	for i := range end {
		if i < n || end <= 5 || line[i].capital {
			line[i].mute = true
		}
	}
}

// cardFrom finds the line from which the last paragraph is somebody's card: a
// name, and under it a telephone, an address or a page of the web.
func (w *wisher) cardFrom(raw []token, lines [][2]int) int {
	last := len(lines)
	for last > 0 && lines[last-1][0] == lines[last-1][1] {
		last--
	}
	first := last
	for first > 0 && lines[first-1][0] < lines[first-1][1] {
		first--
	}
	if first == 0 || first == last {
		return len(lines)
	}
	capitals := 0
	for _, t := range raw[lines[first][0]:lines[first][1]] {
		if !t.mark && !t.capital && !t.digits && capitals < 2 {
			return len(lines) // no name
		}
		if t.capital {
			capitals++
		}
	}
	for _, l := range lines[first:last] {
		line := raw[l[0]:l[1]]
		for i, t := range line {
			reached := t.low == "\x00" || t.digits && len(t.low) > 3 && i+1 < len(line) && line[i+1].digits || begins(line[i:], kPhone) > 0
			if capitals > 1 && (reached || w.addressAt(line, i) > 0) {
				return first
			}
		}
	}
	return len(lines)
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
	for i := range line {
		if n := w.addressAt(line, i); n > 0 {
			mute(line[i : i+n])
		}
	}
}

// addressAt tells how many tokens a street address takes that begins at i.
func (w *wisher) addressAt(line []token, i int) int {
	of := func(i int, k kind) bool { return begins(line[i:], k) > 0 }
	if t := line[i]; !t.digits || t.value != float64(int(t.value)) {
		return 0
	}
	k := i + 1
	for k < len(line) && k < i+4 && line[k].capital && !of(k, kStreetEnd) && !of(k, kStreetTop) {
		k++
	}
	if k < len(line) && k > i+1 && line[k].capital && of(k, kStreetEnd) {
		return k + 1 - i
	}
	k = i + 1
	for k < len(line) && k < i+3 && (line[k].low == "," || line[k].low == "bis" || line[k].low == "ter") {
		k++
	}
	if k >= len(line) || !of(k, kStreetTop) {
		return 0
	}
	end := k + 1
	for end < len(line) && end < k+7 && !line[end].mark {
		end++
	}
	return end - i
}
