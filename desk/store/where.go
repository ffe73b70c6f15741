package store

import (
	"database/sql/driver"
	"fmt"
	"reflect"
	"strings"
)

// where gathers conditions that must all hold, and their arguments.
type where struct {
	parts []string
	args  []any
}

// add adds a condition, each ? in it standing for an argument.
func (w *where) add(cond string, args ...any) {
	w.parts = append(w.parts, cond)
	w.args = append(w.args, args...)
}

// among adds that a column is one of some values; none does not filter.
func among[T ~string](w *where, col string, values []T) {
	if len(values) == 0 {
		return
	}
	args := make([]any, len(values))
	for i, v := range values {
		args[i] = v
	}
	w.add(col+" IN (?"+strings.Repeat(", ?", len(values)-1)+")", args...)
}

// marks is the clause with ? still in it, to stand within another.
func (w *where) marks() string {
	if len(w.parts) == 0 {
		return ""
	}
	return "WHERE " + strings.Join(w.parts, " AND ")
}

// String is the clause with its arguments numbered.
func (w *where) String() string {
	var b strings.Builder
	n := 0
	for _, r := range w.marks() {
		if r == '?' {
			n++
			fmt.Fprintf(&b, "$%d", n)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// limit is a LIMIT clause; most 0 or less is none.
func limit(most int) string {
	if most <= 0 {
		return ""
	}
	return fmt.Sprintf(" LIMIT %d", most)
}

// bind makes arguments what both drivers take: plain strings for named ones,
// mended as text columns are.
func bind(args []any) []any {
	for i, a := range args {
		if _, ok := a.(driver.Valuer); ok {
			continue
		}
		if v := reflect.ValueOf(a); v.Kind() == reflect.String {
			args[i] = clean(v.String())
		}
	}
	return args
}
