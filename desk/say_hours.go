package desk

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// SayHours writes the hours of a day as people type them: "10:00-13:00,
// 14:00-18:00"; "closed" if there are none.
func SayHours(spans []Span) string {
	if len(spans) == 0 {
		return "closed"
	}
	var said []string
	for _, s := range spans {
		said = append(said, fmt.Sprintf("%02d:%02d-%02d:%02d", s.From/60, s.From%60, s.To/60, s.To%60))
	}
	return strings.Join(said, ", ")
}

var spanForm = regexp.MustCompile(`^(\d{1,2})(?:[:.h](\d{2}))? ?(?:-|–|—|to) ?(\d{1,2})(?:[:.h](\d{2}))?$`)

// ParseHours reads what SayHours writes, and the like: "10-13, 14-18",
// "10.00–18.30", "9:30 to 17". Its error is a sentence.
func ParseHours(text string) ([]Span, error) {
	text = strings.ToLower(CleanLine(text, 300))
	if text == "" || text == "closed" {
		return nil, nil
	}
	var spans []Span
	for part := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ',' || r == ';' }) {
		m := spanForm.FindStringSubmatch(strings.TrimSpace(part))
		if m == nil {
			return nil, fieldFault("hours", fmt.Sprintf("%q is no time of day. Write hours like 10:00-13:00, 14:00-18:00, and nothing for a closed day.", cut(strings.TrimSpace(part), 30)))
		}
		var n [4]int
		for i := range n {
			n[i], _ = strconv.Atoi(m[i+1]) // digits, or nothing, which is 0
		}
		s := Span{n[0]*60 + n[1], n[2]*60 + n[3]}
		if n[1] > 59 || n[3] > 59 || s.To > 24*60 {
			return nil, fieldFault("hours", fmt.Sprintf("%q is no time of day. Times are from 00:00 to 24:00.", strings.TrimSpace(part)))
		}
		spans = append(spans, s)
	}
	if say := validSpans(spans); say != "" {
		return nil, fieldFault("hours", capital(say))
	}
	return spans, nil
}
