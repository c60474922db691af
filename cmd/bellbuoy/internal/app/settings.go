package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

// Adopt prepares to go on with the same shop by other settings; what it returns does
// so and cannot fail.
type Adopt func(ctx context.Context, a *App) (take func(), err error)

// Reread goes on by what the settings files say now, all of it or nothing.
func (a *App) Reread(ctx context.Context, adopt Adopt) error {
	a.saving.Lock()
	defer a.saving.Unlock()
	c, err := config.Load(a.Config.Name())
	if err != nil {
		return err
	}
	n, err := a.With(ctx, c)
	if err != nil {
		return err
	}
	take, err := adopt(ctx, n)
	if err != nil {
		return err
	}
	take()
	return nil
}

// SettingsEdit is a change of settings that somebody makes on a page.
type SettingsEdit struct {
	Actor, Form string // form is taken once, as with [store.DB.RecordWork]
	// Of says what changes, knowing what the files say at that moment.
	Of func(*config.Config) (config.Edit, error)
}

// SettingsChange is what came of it.
type SettingsChange struct {
	Settings int // how many changed
	Change
}

// ChangeSettings writes the pages' settings file, goes on by it and brings plans,
// weeks and calendars up to date. The settings are those of the files as they are
// then, as with [App.Reread]. [config.Faults] if they make no sense together, and
// nothing is changed.
func (a *App) ChangeSettings(ctx context.Context, now time.Time, e SettingsEdit, adopt Adopt) (did SettingsChange, err error) {
	ctx = context.WithoutCancel(ctx) // not half of it
	n, did, err := a.saveSettings(ctx, now, e, adopt)
	if err != nil || did.Settings == 0 {
		return did, err
	}
	did.Change, err = n.follow(ctx, now, "")
	return did, err
}

func (a *App) saveSettings(ctx context.Context, now time.Time, e SettingsEdit, adopt Adopt) (n *App, did SettingsChange, err error) {
	a.saving.Lock()
	defer a.saving.Unlock()
	if taken, err := a.DB.FormTaken(ctx, e.Form); err != nil || taken {
		return nil, did, errors.Join(err, store.ErrSent)
	}
	old, err := config.Load(a.Config.Name())
	if err != nil {
		return nil, did, err
	}
	edit, err := e.Of(old)
	if err != nil {
		return nil, did, err
	}
	text, err := old.Edited(edit)
	if err != nil {
		return nil, did, err
	}
	c, err := old.With(text)
	if err != nil {
		return nil, did, err
	}
	note, err := changedSettings(old, c)
	if did.Settings = len(note.After); err != nil || did.Settings == 0 {
		return nil, did, err
	}
	if n, err = a.With(ctx, c); err != nil {
		return nil, did, err
	}
	take, err := adopt(ctx, n)
	if err != nil {
		return nil, did, err
	}
	if err := writeWhole(c.PagesFile(), text); err != nil {
		return nil, did, fmt.Errorf("write the settings: %w", err)
	}
	take()
	return n, did, a.db.NoteSettings(ctx, now, e.Actor, e.Form, note)
}

// changedSettings are the values that differ, before and after.
func changedSettings(old, c *config.Config) (note store.PagesSettings, err error) {
	was, err1 := old.Written()
	is, err2 := c.Written()
	if err := errors.Join(err1, err2); err != nil {
		return note, err
	}
	note = store.PagesSettings{Before: make(map[string]any), After: make(map[string]any), Text: c.Pages()}
	for _, addr := range was.Differences(is) {
		note.Before[addr], note.After[addr] = was.Values[addr], is.Values[addr]
	}
	return note, nil
}

// writeWhole puts a file in the place of another, its owner and mode kept. Whenever
// it is cut short the old one or the new one is there.
func writeWhole(path string, data []byte) error {
	mode := fs.FileMode(0o600)
	if info, err := os.Stat(path); err == nil {
		mode = info.Mode().Perm()
	}
	part := path + ".part"
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = store.KeepOwner(part, path)
	}
	if err == nil {
		err = os.Rename(part, path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return archive.SyncFile(filepath.Dir(path))
}

// KeepPages keeps in the database what stands in the pages' settings file, which
// somebody may have written by hand too, so that a copy of the one has both.
func (a *App) KeepPages(ctx context.Context) error {
	text, err := os.ReadFile(a.Config.PagesFile())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("settings of the pages: %w", err)
	}
	if a.Config.CanChange() != "" {
		text = nil
	}
	kept, err := a.DB.Setting(ctx, store.SettingPages)
	if isNotFound(err) {
		err = nil
	}
	if err != nil || bytes.Equal(kept, text) {
		return err
	}
	return a.db.SetSetting(ctx, store.SettingPages, text)
}

// BackUp writes a checked copy of the database, with the pages' settings in it.
func (a *App) BackUp(ctx context.Context, path string) error {
	if err := a.KeepPages(ctx); err != nil {
		return err
	}
	return archive.Backup(ctx, a.DB, path)
}
