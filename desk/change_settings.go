package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"platebook/engine/tariff"
)

// NewCurrency is a tariff whose currency is meant to be another than before:
// while requests are open a change of currency is refused unless it comes like
// this. What is agreed already stays in the currency it was agreed in.
type NewCurrency struct{ tariff.Tariff }

// SaveSetting keeps doc as the newest version of a kind of settings: a
// Library, Rules, tariff.Tariff (or NewCurrency), Terms, Texts or Profiles.
// version is the one the person changed; if it is not the newest any more the
// fault is Stale. It returns the new version, or version if nothing differs.
func (d *Desk) SaveSetting(ctx context.Context, by Actor, kind SettingKind, version int, doc any) (int, error) {
	if !by.Everywhere() {
		return 0, onlyManagers()
	}
	saved := version
	err := d.Store.Write(ctx, func(tx Tx) error {
		var err error
		saved, err = d.saveSetting(tx, by, kind, version, doc)
		return err
	})
	return saved, err
}

func (d *Desk) saveSetting(tx Tx, by Actor, kind SettingKind, version int, doc any) (int, error) {
	s, err := settings(tx)
	if err != nil {
		return 0, err
	}
	newest := s.Versions[kind]
	if version != newest && version != newest-1 {
		return 0, staleRow("these settings")
	}
	if doc, err = validDoc(tx, s, kind, doc); err != nil {
		if version != newest && KindOf(err) == Wrong {
			err = staleRow("these settings")
		}
		return 0, err
	}
	body, err := json.Marshal(doc)
	if err != nil {
		return 0, fmt.Errorf("setting %s: %w", kind, err)
	}
	if version != newest {
		// The same form sent twice is one saving.
		if was, err := tx.Setting(kind, newest); err != nil {
			return 0, err
		} else if was.By == by.Name && bytes.Equal(was.Body, body) {
			return newest, nil
		}
		return 0, staleRow("these settings")
	}
	if version > 0 {
		was, err := tx.Setting(kind, version)
		if err != nil {
			return 0, err
		}
		if bytes.Equal(was.Body, body) {
			return version, nil
		}
	}
	err = tx.SaveSetting(&Setting{Kind: kind, Version: version + 1, Body: body, Since: d.now(), By: by.Name})
	if KindOf(err) == Stale {
		return 0, staleRow("these settings")
	}
	return version + 1, err
}

// validDoc checks a document against its kind and the other settings, and
// returns it as it is kept.
func validDoc(tx Tx, s Settings, kind SettingKind, doc any) (any, error) {
	switch v := doc.(type) {
	case Library:
		if kind == LibrarySetting {
			return validLibrary(v)
		}
	case Rules:
		if kind == RulesSetting {
			return validRules(v, s)
		}
	case tariff.Tariff:
		if kind == TariffSetting {
			return validTariff(tx, v, s, false)
		}
	case NewCurrency:
		if kind == TariffSetting {
			return validTariff(tx, v.Tariff, s, true)
		}
	case Terms:
		if kind == TermsSetting {
			return validTerms(v, s)
		}
	case Texts:
		if kind == TextsSetting {
			return validTexts(v, s)
		}
	case MailSettings:
		if kind == MailSetting {
			return validMail(tx, v)
		}
	case Profiles:
		if kind == ProfilesSetting {
			return validProfiles(tx, v, s)
		}
	}
	return nil, fmt.Errorf("setting %q cannot be a %T", kind, doc)
}

// SettingHistory lists every version of a kind, newest first.
func (d *Desk) SettingHistory(ctx context.Context, by Actor, kind SettingKind) ([]Setting, error) {
	if !by.Everywhere() {
		return nil, onlyManagers()
	}
	var all []Setting
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		all, err = tx.SettingVersions(kind)
		return err
	})
	return all, err
}

// Rows that managers change keep a history too, beside the settings: as
// documents of the kind "branch/ID" and so on, which no program reads.

func rowKind(what string, id ID) SettingKind { return SettingKind(what + "/" + string(id)) }

// keepRow adds a line to the history of a row, in the transaction that
// changed it.
func (d *Desk) keepRow(tx Tx, by Actor, what string, id ID, row any) error {
	body, err := json.Marshal(row)
	if err != nil {
		return err
	}
	version := 0
	was, err := tx.Setting(rowKind(what, id), 0)
	switch {
	case KindOf(err) == NotFound:
	case err != nil:
		return err
	case bytes.Equal(was.Body, body):
		return nil
	default:
		version = was.Version
	}
	return tx.SaveSetting(&Setting{Kind: rowKind(what, id), Version: version + 1, Body: body, Since: d.now(), By: by.Name})
}

// rowHistory lists what was kept of a row, newest first.
func (d *Desk) rowHistory(ctx context.Context, what string, id ID) ([]Setting, error) {
	var all []Setting
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		all, err = tx.SettingVersions(rowKind(what, id))
		return err
	})
	return all, err
}
