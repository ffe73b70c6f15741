package storetest

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/engine/tariff"
)

// filled returns a value with something different in every field, so that a
// field a store forgot, or two it mixed up, show. depth bounds what points at
// itself.
func filled[T any](seed int) T {
	var v T
	n := seed * 1000
	fill(reflect.ValueOf(&v).Elem(), &n, 0)
	return v
}

func fill(v reflect.Value, n *int, depth int) {
	*n++
	switch v.Interface().(type) {
	case time.Time:
		v.Set(reflect.ValueOf(time.UnixMicro(1_900_000_000_000_000 + int64(*n)).UTC()))
		return
	case tariff.Decimal:
		v.SetString(fmt.Sprintf("%d.25", *n))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprintf("é%d", *n))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		v.SetInt(int64(*n % 100))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		v.SetUint(uint64(*n % 100))
	case reflect.Float32, reflect.Float64:
		v.SetFloat(float64(*n) + 0.125)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		if depth < 12 {
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), n, depth+1)
		}
	case reflect.Slice:
		if depth < 12 {
			v.Set(reflect.MakeSlice(v.Type(), 2, 2))
			fill(v.Index(0), n, depth+1)
			fill(v.Index(1), n, depth+1)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), n, depth+1)
		}
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(key, n, depth+1)
		fill(value, n, depth+1)
		v.SetMapIndex(key, value)
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				fill(v.Field(i), n, depth+1)
			}
		}
	}
}

// same wants two values alike, as far as they can be written down.
func same(t *testing.T, what string, got, want any) {
	t.Helper()
	g, err1 := json.MarshalIndent(got, "", " ")
	w, err2 := json.MarshalIndent(want, "", " ")
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if d := cmp.Diff(string(w), string(g)); d != "" {
		t.Errorf("%s came back changed (- wanted, + got):\n%s", what, d)
	}
}

// testFields keeps values with every field set, and values with none, and
// wants them back as they were.
func testFields(t *testing.T, s desk.Store) {
	r := filled[desk.Request](1)
	r.Version = 0
	home := r.ID
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&r) })
	same(t, "request", read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(home) }), r)

	changed := filled[desk.Request](2)
	changed.ID, changed.Version = home, 1
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&changed) })
	same(t, "changed request", read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(home) }), changed)

	bare := desk.Request{ID: home, Version: 2}
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&bare) })
	same(t, "emptied request", read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(home) }), bare)

	f, m := filled[desk.File](3), filled[desk.Message](4)
	e, c := filled[desk.Event](5), filled[desk.Charge](6)
	f.Request, m.Request, e.Request, c.Request = home, home, home, home
	write(t, s, func(tx desk.Tx) error {
		for _, err := range []error{tx.SaveFile(&f), tx.SaveMessage(&m), tx.AddEvent(&e), tx.AddCharge(&c)} {
			if err != nil {
				return err
			}
		}
		return nil
	})
	same(t, "file", read(t, s, func(tx desk.Tx) (desk.File, error) { return tx.File(f.ID) }), f)
	same(t, "message", read(t, s, func(tx desk.Tx) ([]desk.Message, error) { return tx.Messages(home) }), []desk.Message{m})
	same(t, "event", read(t, s, func(tx desk.Tx) ([]desk.Event, error) { return tx.Events(home, 0) }), []desk.Event{e})
	same(t, "charge", read(t, s, func(tx desk.Tx) ([]desk.Charge, error) { return tx.Charges(home) }), []desk.Charge{c})

	versioned(t, s, "run", func(r *desk.Run) (*desk.ID, *int64) { return &r.ID, &r.Version }, desk.Tx.SaveRun, desk.Tx.Run)
	versioned(t, s, "spool", func(r *desk.Spool) (*desk.ID, *int64) { return &r.ID, &r.Version }, desk.Tx.SaveSpool, desk.Tx.Spool)
	versioned(t, s, "branch", func(r *desk.Branch) (*desk.ID, *int64) { return &r.ID, &r.Version }, desk.Tx.SaveBranch, desk.Tx.Branch)
	versioned(t, s, "printer", func(r *desk.PrinterUnit) (*desk.ID, *int64) { return &r.ID, &r.Version }, desk.Tx.SavePrinter, desk.Tx.Printer)
	versioned(t, s, "account", func(r *desk.Staff) (*desk.ID, *int64) { return &r.ID, &r.Version }, desk.Tx.SaveStaff, desk.Tx.Staff)

	sp := aSpool(t, s)
	l, in := filled[desk.SpoolLine](7), filled[desk.LogIn](8)
	l.Spool = sp
	set, tally, shape := filled[desk.Setting](9), filled[desk.Tally](10), filled[desk.Shape](11)
	set.Version, set.Body = 1, []byte(`{"a":"é"}`)
	letter, out := filled[desk.Mail](12), filled[desk.Posted](13)
	write(t, s, func(tx desk.Tx) error {
		for _, err := range []error{tx.AddSpoolLine(&l), tx.AddLogIn(in), tx.SaveSetting(&set), tx.AddTally(&tally),
			tx.AddShape(&shape), tx.SaveMail(&letter), tx.SavePosted(&out)} {
			if err != nil {
				return err
			}
		}
		return nil
	})
	same(t, "line of a spool", read(t, s, func(tx desk.Tx) ([]desk.SpoolLine, error) { return tx.SpoolLines(sp, 9) }), []desk.SpoolLine{l})
	same(t, "log-in", read(t, s, func(tx desk.Tx) ([]desk.LogIn, error) { return tx.LogIns(time.Time{}, "", "", 9) }), []desk.LogIn{in})
	same(t, "setting", read(t, s, func(tx desk.Tx) (desk.Setting, error) { return tx.Setting(set.Kind, 1) }), set)
	same(t, "tally", read(t, s, func(tx desk.Tx) ([]desk.Tally, error) { return tx.Tallies("", "") }), []desk.Tally{tally})
	same(t, "shape", read(t, s, func(tx desk.Tx) ([]desk.Shape, error) { return tx.Shapes() }), []desk.Shape{shape})
	same(t, "letter that came", read(t, s, func(tx desk.Tx) (desk.Mail, error) { return tx.Mail(letter.ID) }), letter)
	same(t, "letter that goes", read(t, s, func(tx desk.Tx) (desk.Posted, error) { return tx.Posted(out.ID) }), out)
}

func aSpool(t *testing.T, s desk.Store) desk.ID {
	t.Helper()
	sp := desk.Spool{Name: "PLA-01"}
	write(t, s, func(tx desk.Tx) error { return tx.SaveSpool(&sp) })
	return sp.ID
}

// versioned keeps a value with every field set, changes every field, and
// empties every field.
func versioned[T any](t *testing.T, s desk.Store, what string, key func(*T) (*desk.ID, *int64),
	save func(desk.Tx, *T) error, get func(desk.Tx, desk.ID) (T, error)) {
	t.Helper()
	var id desk.ID
	for i, v := range []T{filled[T](21), filled[T](22), *new(T)} {
		is, version := key(&v)
		if i == 0 {
			id = *is
		}
		*is, *version = id, int64(i)
		write(t, s, func(tx desk.Tx) error { return save(tx, &v) })
		if *version != int64(i+1) {
			t.Errorf("%s saved %d times is at version %d", what, i+1, *version)
		}
		same(t, what, read(t, s, func(tx desk.Tx) (T, error) { return get(tx, id) }), v)
	}
}
