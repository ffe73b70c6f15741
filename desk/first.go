package desk

import (
	"context"
	"strings"

	"golang.org/x/text/language"
)

// FirstForm is what a new desk needs to know to begin.
type FirstForm struct {
	Word      string // Desk.SetUpWord, as printed where the desk was started
	Library   string
	Address   string // on the web: https://…
	TimeZone  string // IANA
	Locale    string // BCP 47
	Languages []string
	Currency  string // ISO 4217
	Branch    string
	Name      string // to log in with
	Called    string
	Password  string
}

// NeedsManager says whether there is no account yet.
func (d *Desk) NeedsManager(ctx context.Context) (bool, error) {
	var all []Staff
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		all, err = tx.AllStaff()
		return err
	})
	return len(all) == 0, err
}

// FirstManager makes the first account, a manager of all branches, with the
// first branch and the library's settings, all or nothing. It works while there
// is no account at all, and only with the set-up word.
func (d *Desk) FirstManager(ctx context.Context, f FirstForm) (Staff, error) {
	if need, err := d.NeedsManager(ctx); err != nil {
		return Staff{}, err
	} else if !need {
		return Staff{}, notFirst()
	}
	if !sameWord(f.Word, d.SetUpWord) {
		return Staff{}, fieldFault("word", "This is not the set-up word. It is printed where the desk was started; a new one comes with each start.")
	}
	fields := map[string]string{}
	f.Name, f.Called, f.Branch = loginName(f.Name), tidy(f.Called), tidy(f.Branch)
	if !nameForm.MatchString(f.Name) {
		fields["name"] = "Write a name to log in with: 2 to 60 letters, digits, or . _ @ + - with no spaces."
	}
	if f.Called == "" || len([]rune(f.Called)) > 60 {
		fields["called"] = "Write the name colleagues and patrons see, at most 60 characters."
	}
	if f.Branch == "" || len([]rune(f.Branch)) > 60 {
		fields["branch"] = "Write the name of the first branch, at most 60 characters."
	}
	if why := judgePassword(f.Password, f.Library, f.Name, f.Called, f.Branch); why != "" {
		fields["password"] = why
	}
	if len(f.Languages) == 0 {
		if tag, err := language.Parse(f.Locale); err == nil {
			base, _ := tag.Base()
			f.Languages = []string{base.String()}
		}
	}
	l, err := validLibrary(Library{Name: f.Library, Locale: f.Locale, TimeZone: f.TimeZone, Languages: f.Languages, Address: f.Address})
	if err := addFields(fields, err); err != nil {
		return Staff{}, err
	}
	if len(fields) > 0 {
		return Staff{}, faultOf(fields)
	}
	free, err := hashSlot(ctx)
	if err != nil {
		return Staff{}, err
	}
	kept := hashPassword(f.Password, d.cost())
	free()
	var s Staff
	err = d.Store.Write(ctx, func(tx Tx) error {
		// Again, where nobody can come between.
		all, err := tx.AllStaff()
		if err != nil {
			return err
		}
		if len(all) > 0 {
			return notFirst()
		}
		b := Branch{ID: NewID(), Name: f.Branch}
		s = Staff{ID: NewID(), Name: f.Name, Called: f.Called, Password: kept, Grants: []Grant{{Role: Manager}}, Home: b.ID,
			Active: true, Made: d.now(), Renewed: d.now()}
		by := s.actor("")
		if err := tx.SaveBranch(&b); err != nil {
			return err
		}
		if err := d.keepRow(tx, by, "branch", b.ID, branchRow(b)); err != nil {
			return err
		}
		if err := tx.SaveStaff(&s); err != nil {
			return err
		}
		if err := d.keepRow(tx, by, "staff", s.ID, staffRow(s)); err != nil {
			return err
		}
		set, err := settings(tx)
		if err != nil {
			return err
		}
		if _, err = d.saveSetting(tx, by, LibrarySetting, set.Versions[LibrarySetting], l); err != nil {
			return err
		}
		return d.firstTariff(tx, by, set, f)
	})
	return s, err
}

// firstTariff keeps the built-in tariff with the library's currency, for the
// manager to put the library's own rates in.
func (d *Desk) firstTariff(tx Tx, by Actor, set Settings, f FirstForm) error {
	t := set.Tariff
	if t.Currency = strings.ToUpper(strings.TrimSpace(f.Currency)); t.Currency == "" {
		return fieldFault("currency", "Write the currency as its three letters, like EUR, GBP or CAD.")
	}
	t.ID, t.Name = "library", "Tariff"
	_, err := d.saveSetting(tx, by, TariffSetting, set.Versions[TariffSetting], t)
	if KindOf(err) == Wrong {
		return fieldFault("currency", "This currency cannot be used. Write its three letters, like EUR, GBP or CAD.")
	}
	return err
}

func notFirst() *Fault {
	return Faultf(NotNow, "This desk has its manager already. Log in, or ask the manager for an account.")
}

// addFields adds the fields of a Wrong fault to those found before; another
// error comes back.
func addFields(fields map[string]string, err error) error {
	if KindOf(err) != Wrong {
		return err
	}
	f, ok := err.(*Fault)
	if !ok {
		return err
	}
	for k, say := range f.Fields {
		if k == "name" {
			k = "library"
		}
		fields[k] = say
	}
	return nil
}
