package say

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// verbs lists the verbs of a form, in order.
func verbs(form Form) []string {
	var all []string
	cut(string(form), func(string) {}, func(verb string, _ int) { all = append(all, verb) })
	return all
}

// cut takes a form apart into what stands and what is filled. A verb may say by
// number which argument it is for, as %[2]s does; n is −1 where it does not.
func cut(form string, stands func(string), filled func(verb string, n int)) {
	for {
		i := strings.IndexByte(form, '%')
		if i < 0 || i+1 == len(form) {
			stands(form)
			return
		}
		stands(form[:i])
		form = form[i:]
		if form[1] == '%' {
			stands("%")
			form = form[2:]
			continue
		}
		end := strings.IndexFunc(form[1:], unicode.IsLetter)
		if end < 0 {
			stands(form)
			return
		}
		verb, n := form[:end+2], -1
		if a, b := strings.IndexByte(verb, '['), strings.IndexByte(verb, ']'); a > 0 && b > a {
			if k, err := strconv.Atoi(verb[a+1 : b]); err == nil {
				n = k - 1
			}
		}
		filled(verb, n)
		form = form[end+2:]
	}
}

// write says s in a language, or says that the language lacks a form of it.
func (s Saying) write(l *language) (string, bool) {
	form, ok := l.form(s)
	if !ok {
		return "", false
	}
	var b strings.Builder
	say := func(a Arg) {
		text, known := l.arg(a)
		ok = ok && known
		b.WriteString(text)
	}
	switch {
	case s.Joined:
		for i, a := range s.With {
			if i > 0 {
				b.WriteString(form)
			}
			say(a)
		}
	default:
		next := 0
		if s.One != "" && len(verbs(Form(form))) < len(verbs(s.Form)) {
			next = 1 // a form for one that need not give the number
		}
		cut(form, func(text string) { b.WriteString(text) }, func(_ string, n int) {
			if n < 0 {
				n = next
				next++
			}
			if n < len(s.With) {
				say(s.With[n])
			}
		})
	}
	text := b.String()
	if r, n := utf8.DecodeRuneInString(text); n > 0 && s.Begins {
		text = string(unicode.ToUpper(r)) + text[n:]
	} else if n > 0 && s.Small {
		text = string(unicode.ToLower(r)) + text[n:]
	}
	if s.Ends && text != "" && !strings.HasSuffix(text, ".") {
		text += "."
	}
	return text, ok
}
