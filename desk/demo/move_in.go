package demo

import (
	"context"
	"fmt"
	"time"

	"platebook/desk"
)

// longAgo is when the service began, days before the demonstration.
const longAgo = 80

// moveIn makes the service as a manager would on the settings pages: the first
// account, branches, printers, spools, staff, rules and texts.
func (s *life) moveIn(ctx context.Context) error {
	s.progress(0, 3*len(s.tales), "Branches, printers, spools and staff move in")
	d := s.at(s.before(longAgo))
	d.SetUpWord = desk.NewWord()
	// Everybody can read the password: to hash it dearly would protect nobody.
	// The first log-in makes up for it.
	d.Passwords = desk.PasswordCost{KiB: 64, Passes: 1, Lanes: 1}
	first := Accounts()[0]
	l := library(s.options.Address)
	made, err := d.FirstManager(ctx, desk.FirstForm{Word: d.SetUpWord, Library: l.Name, Address: l.Address, TimeZone: l.TimeZone, Locale: l.Locale,
		Languages: l.Languages, Currency: "GBP", Branch: places[0].name, Name: first.Name, Called: first.Called, Password: Password})
	if err != nil {
		return fmt.Errorf("the first manager: %w", err)
	}
	if s.zone, err = time.LoadLocation(l.TimeZone); err != nil {
		return err
	}
	if err := s.actor(ctx, d, first.Name, made.ID); err != nil {
		return err
	}
	for _, part := range []func(context.Context, *desk.Desk, desk.Actor) error{s.settle, s.build, s.install, s.employ} {
		if err := part(ctx, d, s.manager()); err != nil {
			return err
		}
	}
	return nil
}

// actor keeps who an account is.
func (s *life) actor(ctx context.Context, d *desk.Desk, name string, id desk.ID) error {
	who, err := d.ActorFor(ctx, id, "", d.Now())
	if err != nil {
		return fmt.Errorf("the account %s: %w", name, err)
	}
	s.staff[name] = who
	return nil
}

// settle keeps the settings; the tariff and the agreement text as they were
// before, too.
func (s *life) settle(ctx context.Context, d *desk.Desk, by desk.Actor) error {
	was, is := tariffs()
	first, second := terms()
	for _, doc := range []struct {
		kind desk.SettingKind
		doc  any
	}{
		{desk.LibrarySetting, library(s.options.Address)}, {desk.RulesSetting, rules()},
		{desk.TariffSetting, was}, {desk.TariffSetting, is}, {desk.TermsSetting, first}, {desk.TermsSetting, second},
		{desk.TextsSetting, texts()},
	} {
		set, err := d.Settings(ctx)
		if err != nil {
			return err
		}
		if _, err := d.SaveSetting(ctx, by, doc.kind, set.Versions[doc.kind], doc.doc); err != nil {
			return fmt.Errorf("the %s: %w", doc.kind, err)
		}
	}
	return nil
}

// build opens the branches; the first is there since the first manager.
func (s *life) build(ctx context.Context, d *desk.Desk, by desk.Actor) error {
	there, err := d.Branches(ctx)
	if err != nil {
		return err
	}
	for i, p := range places {
		b := desk.Branch{}
		if i == 0 {
			b = there[0]
		}
		b.Name, b.Place, b.Hours, b.Closed = p.name, p.where, p.hours, closedDays(s.options.Now.In(s.zone), i == 0)
		if s.branch[p.name], err = d.SaveBranch(ctx, by, b); err != nil {
			return fmt.Errorf("the branch %s: %w", p.name, err)
		}
	}
	return nil
}

// install sets up the printers and the spools.
func (s *life) install(ctx context.Context, d *desk.Desk, by desk.Actor) (err error) {
	for _, m := range machines {
		u := desk.PrinterUnit{Name: m.name, Branch: s.branch[m.place].ID, Model: m.model, Out: m.out}
		if s.unit[m.name], err = d.SavePrinterUnit(ctx, by, u); err != nil {
			return fmt.Errorf("the printer %s: %w", m.name, err)
		}
	}
	for _, r := range reels {
		spool, err := d.SaveSpool(ctx, by, desk.SpoolForm{Form: s.form(), Name: r.name, Branch: s.branch[r.place].ID, Material: r.material,
			Colour: r.colour, Hex: r.hex, Full: r.full})
		if err != nil {
			return fmt.Errorf("the spool %s: %w", r.name, err)
		}
		if r.left != r.full {
			if spool, err = d.CountSpool(ctx, by, spool.ID, spool.Version, r.left, "Weighed when it came from the old desk.", s.form()); err != nil {
				return fmt.Errorf("the spool %s: %w", r.name, err)
			}
		}
		if r.in != "" {
			if spool, err = d.LoadSpool(ctx, by, spool.ID, spool.Version, s.unit[r.in].ID, s.form()); err != nil {
				return fmt.Errorf("the spool %s: %w", r.name, err)
			}
		}
		s.spool[r.name] = spool.ID
	}
	return nil
}

// employ makes the accounts, and has everyone set a password of their own.
func (s *life) employ(ctx context.Context, d *desk.Desk, by desk.Actor) error {
	for _, a := range Accounts()[1:] {
		form := desk.StaffForm{Name: a.Name, Called: a.Called, Home: s.branch[a.home].ID, Active: true}
		for _, g := range a.grants {
			form.Grants = append(form.Grants, desk.Grant{Role: g.role, Branch: s.branch[g.place].ID})
		}
		made, word, err := d.SaveStaff(ctx, by, form)
		if err != nil {
			return fmt.Errorf("the account %s: %w", a.Name, err)
		}
		if made, err = d.SetPassword(ctx, desk.Actor{Kind: desk.ByStaff, ID: made.ID, Name: made.Called}, word, Password); err != nil {
			return fmt.Errorf("the password of %s: %w", a.Name, err)
		}
		if err := s.actor(ctx, d, a.Name, made.ID); err != nil {
			return err
		}
		if a.left {
			form.ID, form.Version, form.Active = made.ID, made.Version, false
			if _, _, err := d.SaveStaff(ctx, by, form); err != nil {
				return fmt.Errorf("the account %s: %w", a.Name, err)
			}
		}
	}
	return nil
}

func (s *service) manager() desk.Actor { return s.staff["hesper"] }

// reviewer and operator are who does a thing at a branch.
func (s *service) reviewer(place string) desk.Actor {
	return s.staff[map[string]string{"Weirside": "tobin", "Ropewalk": "aya", "Saltings": "aya", "Lanternhill": "linde"}[place]]
}

func (s *service) operator(place string) desk.Actor {
	return s.staff[map[string]string{"Weirside": "jorun", "Ropewalk": "pip", "Saltings": "pip", "Lanternhill": "linde"}[place]]
}
