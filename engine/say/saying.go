package say

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"unicode"
)

// Form is an English sentence, or a part of one, with a verb as of package fmt
// where something fills it. Forms are constants: a test collects them from the
// source and holds every language to them.
type Form string

// Digits is a number as it is to be shown: a decimal point, narrow no-break
// spaces between groups of three.
type Digits string

// Saying is a sentence, or a part of one, not yet in words. The zero Saying says
// nothing.
type Saying struct {
	Form Form  `json:"form"`
	With []Arg `json:"with,omitempty"`
	// One is the form for a single thing, where Form is for Count of them.
	One   Form `json:"one,omitempty"`
	Count int  `json:"count,omitempty"`
	// Joined has With said one after the other, Form in between.
	Joined bool `json:"joined,omitempty"`
	Begins bool `json:"begins,omitempty"` // with a capital
	Small  bool `json:"small,omitempty"`  // with a small letter
	Ends   bool `json:"ends,omitempty"`   // with a full stop
	// Own words of somebody are said as they are where a language lacks them.
	Own bool `json:"own,omitempty"`
}

// Arg is what fills a form: one of these.
type Arg struct {
	Number   Digits  `json:"number,omitempty"`
	Currency string  `json:"currency,omitempty"` // Number is money then
	Name     string  `json:"name,omitempty"`     // the same in every language
	Quoted   bool    `json:"quoted,omitempty"`   // the name is shown as quoted
	Saying   *Saying `json:"saying,omitempty"`
}

// Sayer is something that can be put into words: an error, for one.
type Sayer interface{ Saying() Saying }

// Of fills a form. Numbers are shown as the verbs of the form show them; a
// string is a name.
func Of(form Form, with ...any) Saying {
	return Saying{Form: form, With: args(form, with)}
}

// Counted says how many there are of something. The first verb of many, and of
// one if it has as many, is for the number itself: %s groups its digits, %d does
// not.
func Counted(n int, one, many Form, with ...any) Saying {
	var number any = n
	if verbs := verbs(many); len(verbs) > 0 && verbs[0] == "%s" {
		number = Whole(n)
	}
	return Saying{Form: many, One: one, Count: n, With: args(many, append([]any{number}, with...))}
}

// Join says parts one after the other. What says nothing is left out, and of
// nothing nothing is said.
func Join(between Form, parts ...Saying) Saying {
	s := Saying{Form: between, Joined: true}
	for _, p := range parts {
		if !p.Empty() {
			s.With = append(s.With, Arg{Saying: &p})
		}
	}
	if len(s.With) == 0 {
		return Saying{}
	}
	return s
}

// List joins parts with commas and “and”.
func List(parts ...Saying) Saying {
	if len(parts) < 2 {
		return Join(", ", parts...)
	}
	last := len(parts) - 1
	return Of("%s and %s", Join(", ", parts[:last]...), parts[last])
}

// Text is a sentence that came with a file of the program, as a caution of a
// material does. Languages may have it; what a library wrote itself is said as
// it was written.
func Text(s string) Saying {
	return Saying{Form: Form(strings.ReplaceAll(s, "%", "%%")), Own: true}
}

// Named is a name, or words of somebody else's, said as they are.
func Named(s string) Saying { return Of("%s", s) }

// Figure is a number by itself.
func Figure(d Digits) Saying { return Of("%s", d) }

// Money is an amount with its ISO 4217 code.
func Money(amount Digits, code string) Saying {
	return Saying{Form: "%s", With: []Arg{{Number: amount, Currency: code}}}
}

// Sentence begins s with a capital and ends it with a full stop.
func Sentence(s Saying) Saying {
	return Saying{Form: "%s", With: []Arg{{Saying: &s}}, Begins: true, Ends: true}
}

// End ends s with a full stop.
func End(s Saying) Saying {
	return Saying{Form: "%s", With: []Arg{{Saying: &s}}, Ends: true}
}

// Start begins s with a capital.
func Start(s Saying) Saying {
	return Saying{Form: "%s", With: []Arg{{Saying: &s}}, Begins: true}
}

// Within says s in the middle of a sentence: its first letter is small.
func Within(s Saying) Saying {
	return Saying{Form: "%s", With: []Arg{{Saying: &s}}, Small: true}
}

// Empty says that nothing is said.
func (s Saying) Empty() bool { return s.Form == "" && len(s.With) == 0 }

// String says it in English.
func (s Saying) String() string {
	text, _ := s.write(&english)
	return text
}

// Strings says all of them in English.
func Strings(all []Saying) []string {
	var out []string
	for _, s := range all {
		out = append(out, s.String())
	}
	return out
}

// args turns what fills a form into what is kept of it.
func args(form Form, with []any) []Arg {
	verbs := verbs(form)
	out := make([]Arg, len(with))
	for i, w := range with {
		verb := "%v"
		if i < len(verbs) {
			verb = verbs[i]
		}
		out[i] = arg(verb, w)
	}
	return out
}

func arg(verb string, w any) Arg {
	switch w := w.(type) {
	case Saying:
		return Arg{Saying: &w}
	case Sayer:
		s := w.Saying()
		return Arg{Saying: &s}
	case Digits:
		return Arg{Number: w}
	case error:
		return Arg{Name: oneLine(w.Error())}
	}
	switch v := reflect.ValueOf(w); v.Kind() {
	case reflect.String:
		return Arg{Name: oneLine(v.String()), Quoted: verb == "%q"}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64,
		reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Float32, reflect.Float64:
		if verb == "%s" {
			verb = "%v"
		}
		return Arg{Number: Digits(fmt.Sprintf(verb, w))}
	}
	return Arg{Name: oneLine(fmt.Sprint(w))}
}

// oneLine keeps a name from a file within its sentence.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, s)
}

// Whole is a number of things, its digits in groups from 10 000 on (SI brochure,
// 5.4.4).
func Whole(n int) Digits { return Grouped(strconv.Itoa(n)) }

// Grouped puts the digits of a whole number into groups of three from five on.
func Grouped(s string) Digits {
	sign, s := sign(s)
	if len(s) < 5 {
		return Digits(sign + s)
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return Digits(sign + s)
}

func sign(s string) (string, string) {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		return "-", rest
	}
	return "", s
}
