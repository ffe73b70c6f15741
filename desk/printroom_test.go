package desk_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// room is a library of two branches to try the operators' calls on: Alder with
// two printers and five spools, Birch with a printer and a spool.
type room struct {
	*desk.Desk
	t            *testing.T
	ctx          context.Context
	at           time.Time
	alder, birch desk.Branch
	mill, twin   desk.PrinterUnit // at Alder
	far          desk.PrinterUnit // at Birch
	red, blue    desk.Spool       // PLA at Alder, 1000 g and 40 g
	petg, pva    desk.Spool       // at Alder
	farRed       desk.Spool       // at Birch
	forms        int
	tariff       int // versions of the settings
	rules        int
}

const (
	pla    = "pla"
	pva    = "pva"
	model  = "millrace-200"
	monday = "2026-03-02T09:00:00Z"
)

// newRoom makes the library, its tariff 1.00 and 0.10 a gram, in EUR.
func newRoom(t *testing.T, change ...func(*desk.Rules, *tariff.Tariff)) *room {
	t.Helper()
	m := &room{t: t, ctx: t.Context()}
	m.at, _ = time.Parse(time.RFC3339, monday)
	s, err := store.Open(m.ctx, store.Options{Folder: t.TempDir(), Now: func() time.Time { return m.at },
		Enqueue: func(context.Context, *sql.Tx, desk.Job) error { return nil }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	m.Desk = &desk.Desk{Store: s, Shelves: s.Shelves(), Now: func() time.Time { return m.at }, Secret: []byte("a secret of tests, thirty-two by."), Program: "test"}
	rules := desk.DefaultRules()
	rules.Attempts, rules.FinalPrice, rules.PickupDays, rules.Reserve = 2, desk.TheLower, 14, 20
	rules.Longest = quote.Length{Duration: 8 * time.Hour}
	tf := tariff.Tariff{ID: "plain", Currency: "EUR", SetUp: "1.00", PerGram: map[string]tariff.Decimal{pla: "0.10", pva: "0.30"}, PerGramOther: "0.20", GramStep: "1", MinuteStep: "1"}
	for _, c := range change {
		c(&rules, &tf)
	}
	day := []desk.Span{{From: 9 * 60, To: 18 * 60}}
	m.alder = desk.Branch{Name: "Alder", Hours: [7][]desk.Span{nil, day, day, day, day, day, nil}}
	m.birch = desk.Branch{Name: "Birch"}
	m.write(func(tx desk.Tx) error {
		if err := tx.SaveBranch(&m.alder); err != nil {
			return err
		}
		if err := tx.SaveBranch(&m.birch); err != nil {
			return err
		}
		m.mill = desk.PrinterUnit{Name: "Mill", Branch: m.alder.ID, Model: model}
		m.twin = desk.PrinterUnit{Name: "Twin", Branch: m.alder.ID, Model: "millrace-300-twin"}
		m.far = desk.PrinterUnit{Name: "Far", Branch: m.birch.ID, Model: model}
		for _, p := range []*desk.PrinterUnit{&m.mill, &m.twin, &m.far} {
			if err := tx.SavePrinter(p); err != nil {
				return err
			}
		}
		return nil
	})
	m.setting(desk.LibrarySetting, desk.Library{Name: "Test Library", Locale: "en-IE", TimeZone: "UTC", Languages: []string{"en"}, Address: "https://desk.example"})
	m.rules = m.setting(desk.RulesSetting, rules)
	m.tariff = m.setting(desk.TariffSetting, tf)
	m.red, m.blue = m.spool("PLA-01", m.alder, pla, "red", 1000), m.spool("PLA-02", m.alder, pla, "blue", 40)
	m.petg, m.pva = m.spool("PETG-01", m.alder, "petg", "clear", 500), m.spool("PVA-01", m.alder, pva, "natural", 500)
	m.farRed = m.spool("PLA-11", m.birch, pla, "red", 1000)
	return m
}

func (m *room) write(do func(desk.Tx) error) {
	m.t.Helper()
	if err := m.Store.Write(m.ctx, do); err != nil {
		m.t.Fatal(err)
	}
}

func (m *room) read(do func(desk.Tx) error) {
	m.t.Helper()
	if err := m.Store.Read(m.ctx, do); err != nil {
		m.t.Fatal(err)
	}
}

func (m *room) setting(k desk.SettingKind, doc any) int {
	m.t.Helper()
	body, err := json.Marshal(doc)
	if err != nil {
		m.t.Fatal(err)
	}
	version := 0
	m.write(func(tx desk.Tx) error {
		all, err := tx.SettingVersions(k)
		if err != nil {
			return err
		}
		version = len(all) + 1
		return tx.SaveSetting(&desk.Setting{Kind: k, Version: version, Body: body, Since: m.at, By: "test"})
	})
	return version
}

func (m *room) spool(name string, b desk.Branch, material, colour string, grams float64) desk.Spool {
	m.t.Helper()
	s, err := m.SaveSpool(m.ctx, m.operator(), desk.SpoolForm{Form: m.form(), Name: name, Branch: b.ID, Material: material, Colour: colour, Full: grams})
	if err != nil {
		m.t.Fatal(err)
	}
	return s
}

// form is a once-only token nobody used.
func (m *room) form() string {
	m.forms++
	return fmt.Sprintf("form-%020d", m.forms)
}

func staffOf(name string, role desk.Role, branch desk.ID) desk.Actor {
	return desk.Actor{Kind: desk.ByStaff, Name: name, Grants: []desk.Grant{{Role: role, Branch: branch}}}
}

func (m *room) operator() desk.Actor { return staffOf("Otto", desk.Operator, "") }
func (m *room) manager() desk.Actor  { return staffOf("Mina", desk.Manager, "") }

// plate is what one plate of a test request takes.
func plate(seconds float64, grams map[string]float64) desk.PlateWay {
	return desk.PlateWay{Seconds: seconds, Grams: grams}
}

// hours is a plate of PLA that takes so long.
func hours(h, grams float64) desk.PlateWay { return plate(h*3600, map[string]float64{pla: grams}) }

// agreed makes a request of Alder's that is agreed, with these plates.
func (m *room) agreed(plates ...desk.PlateWay) desk.Request {
	m.t.Helper()
	return m.agreedWith(func(*desk.Request) {}, plates...)
}

func (m *room) agreedWith(change func(*desk.Request), plates ...desk.PlateWay) desk.Request {
	m.t.Helper()
	way := desk.Way{ID: "sensible", Printer: model, Material: []string{pla}, Plates: plates, Grams: map[string]float64{},
		Parts: []desk.PartWay{{File: "", Copies: 1, Settings: quote.Settings{LayerHeightMM: 0.2, InfillPercent: 20, Shells: 2, Supports: "none", Base: "skirt"}}}}
	order := tariff.Order{Prints: max(1, len(plates)), Copies: 1}
	for i, p := range plates {
		for id, g := range p.Grams {
			way.Grams[id] += g
		}
		way.Seconds += p.Seconds
		if p.Copies == nil {
			way.Plates[i].Copies = map[desk.ID]int{"": 1}
		}
	}
	for _, id := range []string{pla, pva} {
		if way.Grams[id] > 0 {
			order.Items = append(order.Items, tariff.Item{Material: id, Grams: way.Grams[id]})
		}
		order.Seconds = way.Seconds
	}
	var tf tariff.Tariff
	m.read(func(tx desk.Tx) error {
		doc, err := tx.Setting(desk.TariffSetting, m.tariff)
		if err != nil {
			return err
		}
		return json.Unmarshal(doc.Body, &tf)
	})
	price, err := tf.Price(order)
	if err != nil {
		m.t.Fatal(err)
	}
	way.Price = price
	m.forms++
	r := desk.Request{State: desk.Agreed, Branch: m.alder.ID, Code: desk.Code(fmt.Sprintf("K%d-%03d", 2+m.forms/1000%8, m.forms%1000)), Form: m.form(),
		Key: desk.HashOf([]byte(m.form())), Contact: desk.Contact{Name: "Sam Example", Surname: "Example", Email: "sam@example.org", Phone: "555 0199", Language: "en"},
		Wish: desk.Wish{Copies: 1}, Asked: m.at, Changed: m.at,
		Agreement: &desk.Agreement{Way: way, At: m.at, By: "patron", Terms: 1, Tariff: m.tariff, Rules: m.rules}}
	change(&r)
	m.write(func(tx desk.Tx) error { return tx.SaveRequest(&r) })
	return r
}

func (m *room) request(id desk.ID) (r desk.Request) {
	m.t.Helper()
	m.read(func(tx desk.Tx) (err error) { r, err = tx.Request(id); return })
	return r
}

// platesOf is every plate of a request.
func platesOf(r desk.Request) (refs []desk.PlateRef) {
	for i := range r.Agreement.Way.Plates {
		refs = append(refs, desk.PlateRef{Request: r.ID, Plate: i})
	}
	return refs
}

// start puts plates on Mill with the red spool, at whatever hour.
func (m *room) start(refs ...desk.PlateRef) desk.Run {
	m.t.Helper()
	run, _, err := m.StartRun(m.ctx, m.manager(), desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: refs, Spools: []desk.ID{m.red.ID}, Anyway: "test"})
	if err != nil {
		m.t.Fatal(err)
	}
	return run
}

// weigh weighs a run, so many grams of PLA for each part.
func (m *room) weigh(run desk.Run, grams ...float64) desk.Run {
	m.t.Helper()
	f := desk.WeighForm{Form: m.form(), Sure: true}
	for _, g := range grams {
		f.Grams = append(f.Grams, map[string]float64{pla: g})
	}
	run, err := m.WeighRun(m.ctx, m.operator(), run.ID, 0, f)
	if err != nil {
		m.t.Fatal(err)
	}
	return run
}

// weighed is a request of one plate that was printed and weighed.
func (m *room) weighed(quoted, grams float64) desk.Request {
	m.t.Helper()
	r := m.agreed(hours(1, quoted))
	m.weigh(m.start(platesOf(r)...), grams)
	return m.request(r.ID)
}

// shelved is a request on the shelf.
func (m *room) shelved(quoted, grams float64) desk.Request {
	m.t.Helper()
	r := m.weighed(quoted, grams)
	r, err := m.Shelve(m.ctx, m.operator(), r.ID, r.Version, "B3", m.form())
	if err != nil {
		m.t.Fatal(err)
	}
	return r
}

func (m *room) balance(id desk.ID) string {
	m.t.Helper()
	a, err := m.Account(m.ctx, m.manager(), id)
	if err != nil {
		m.t.Fatal(err)
	}
	return string(a.Balance)
}

func (m *room) events(id desk.ID) (all []desk.Event) {
	m.t.Helper()
	m.read(func(tx desk.Tx) (err error) { all, err = tx.Events(id, 0); return })
	return all
}

// told says whether a history line of a kind says this.
func (m *room) told(id desk.ID, what, part string) bool {
	m.t.Helper()
	return slices.ContainsFunc(m.events(id), func(e desk.Event) bool { return e.What == what && strings.Contains(e.Say, part) })
}

// reelsAgree holds every spool to its lines, and to what is physically possible.
func (m *room) reelsAgree() {
	m.t.Helper()
	m.read(func(tx desk.Tx) error {
		spools, err := tx.Spools(nil, true)
		if err != nil {
			return err
		}
		for _, s := range spools {
			lines, err := tx.SpoolLines(s.ID, 100000)
			if err != nil {
				return err
			}
			sum := 0.0
			for _, l := range lines {
				sum += l.Grams
			}
			if math.Abs(sum-s.Grams) > 1e-6 || s.Grams < 0 {
				m.t.Errorf("%s: %g g left, its lines add up to %g", s.Name, s.Grams, sum)
			}
		}
		return nil
	})
}

// fewer lets a law be tried less often than usual where every try writes to a
// store; more can be asked for with -rapid.checks.
func fewer(t *testing.T, checks string) {
	t.Helper()
	f := flag.Lookup("rapid.checks")
	if f == nil || f.Value.String() != f.DefValue {
		return
	}
	if err := f.Value.Set(checks); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Value.Set(f.DefValue) })
}

// faultIs holds an error to a kind, and a Fault to a sentence.
func faultIs(t testing.TB, name string, err error, kind desk.Kind) {
	t.Helper()
	if desk.KindOf(err) != kind {
		t.Errorf("%s: %q (%v), want %q", name, desk.KindOf(err), err, kind)
	}
}
