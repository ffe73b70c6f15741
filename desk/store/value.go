package store

import (
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"
)

// value is a field of a row on its way in and out of a column: it is read and
// written through a pointer to the field.
type value interface {
	driver.Valuer
	sql.Scanner
}

// text is a string field. PostgreSQL refuses NUL and broken UTF-8, so both are
// mended for either database.
func text[T ~string](p *T) value { return textValue[T]{p} }

type textValue[T ~string] struct{ p *T }

func (v textValue[T]) Value() (driver.Value, error) { return clean(string(*v.p)), nil }

func (v textValue[T]) Scan(src any) error {
	switch s := src.(type) {
	case string:
		*v.p = T(s)
	case []byte:
		*v.p = T(s)
	default:
		return fmt.Errorf("text in the database is a %T", src)
	}
	return nil
}

func clean(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "")
}

// number is an integer field.
func number[T ~int | ~int64](p *T) value { return numberValue[T]{p} }

type numberValue[T ~int | ~int64] struct{ p *T }

func (v numberValue[T]) Value() (driver.Value, error) { return int64(*v.p), nil }

func (v numberValue[T]) Scan(src any) error {
	n, ok := src.(int64)
	if !ok {
		return fmt.Errorf("a number in the database is a %T", src)
	}
	*v.p = T(n)
	return nil
}

// flag is a bool field, 0 or 1 in the database.
func flag(p *bool) value { return flagValue{p} }

type flagValue struct{ p *bool }

func (v flagValue) Value() (driver.Value, error) {
	if *v.p {
		return int64(1), nil
	}
	return int64(0), nil
}

func (v flagValue) Scan(src any) error {
	var n int64
	err := numberValue[int64]{&n}.Scan(src)
	*v.p = n != 0
	return err
}

// real is a float field. What is no number is refused: SQLite would make NULL
// of it.
func real(p *float64) value { return realValue{p} }

type realValue struct{ p *float64 }

func (v realValue) Value() (driver.Value, error) {
	if math.IsNaN(*v.p) || math.IsInf(*v.p, 0) {
		return nil, fmt.Errorf("%v is not a number to keep", *v.p)
	}
	return *v.p, nil
}

func (v realValue) Scan(src any) error {
	switch n := src.(type) {
	case float64:
		*v.p = n
	case int64:
		*v.p = float64(n)
	default:
		return fmt.Errorf("a number in the database is a %T", src)
	}
	return nil
}

// when is a time field: microseconds since 1970 UTC, NULL for the zero time.
func when(p *time.Time) value { return whenValue{p} }

type whenValue struct{ p *time.Time }

func (v whenValue) Value() (driver.Value, error) {
	if v.p.IsZero() {
		return nil, nil
	}
	return micros(*v.p), nil
}

func (v whenValue) Scan(src any) error {
	if src == nil {
		*v.p = time.Time{}
		return nil
	}
	var n int64
	err := numberValue[int64]{&n}.Scan(src)
	*v.p = time.UnixMicro(n).UTC()
	return err
}

func micros(t time.Time) int64 { return t.UnixMicro() }

// doc is a field kept as JSON.
func doc[T any](p *T) value { return docValue[T]{p} }

type docValue[T any] struct{ p *T }

func (v docValue[T]) Value() (driver.Value, error) {
	b, err := json.Marshal(v.p)
	return string(b), err
}

func (v docValue[T]) Scan(src any) error {
	var s string
	if err := (textValue[string]{&s}).Scan(src); err != nil {
		return err
	}
	var fresh T // so that nothing of an older value shows through
	if err := json.Unmarshal([]byte(s), &fresh); err != nil {
		return err
	}
	*v.p = fresh
	return nil
}
