package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"

	"bellbuoy/notify/link"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

// calendarFolder is where an export keeps the feeds.
const calendarFolder = "calendars"

// Export writes everything into a new folder: the store's files and, as they
// stand today, the calendars of the desk, of every boat and every customer. The
// folder has its name only once it is whole.
func (a *App) Export(ctx context.Context, folder string, today civil.Day) error {
	folder = filepath.Clean(folder)
	if err := mustBeNew(folder); err != nil {
		return err
	}
	if err := a.KeepPages(ctx); err != nil {
		return err
	}
	part := folder + ".part"
	if err := os.RemoveAll(part); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	if err := os.Mkdir(part, 0o700); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	err := archive.Export(ctx, a.DB, part)
	if err == nil {
		err = a.exportCalendars(ctx, filepath.Join(part, calendarFolder), today)
	}
	if err == nil {
		err = archive.WriteManifest(ctx, a.DB, part)
	}
	if err == nil {
		err = store.KeepOwner(part, folder)
	}
	if err == nil {
		err = os.Rename(part, folder) // over an empty folder, or over nothing
	}
	if err != nil {
		return errors.Join(err, os.RemoveAll(part))
	}
	return nil
}

// mustBeNew refuses a folder that holds anything.
func mustBeNew(folder string) error {
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("export: %w", err)
	case len(entries) > 0:
		return fmt.Errorf("export: folder %q is not empty: %w; name one that is not there yet", folder, store.ErrRefused)
	}
	return nil
}

func (a *App) exportCalendars(ctx context.Context, folder string, today civil.Day) error {
	if err := os.Mkdir(folder, 0o700); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	write := func(scope link.Scope, id string) error {
		feed, err := a.Feed(ctx, scope, id, today)
		if err != nil {
			return fmt.Errorf("export the calendar of %s %q: %w", scope, id, err)
		}
		name := string(scope) + ".ics"
		if id != "" {
			name = string(scope) + "-" + url.PathEscape(id) + ".ics"
		}
		return os.WriteFile(filepath.Join(folder, name), feed.Body, 0o600)
	}
	if err := write(link.ScopeDesk, ""); err != nil {
		return err
	}
	boats, err := a.DB.BoatIDs(ctx)
	if err != nil {
		return err
	}
	for _, id := range boats {
		if err := write(link.ScopeBoat, id); err != nil {
			return err
		}
	}
	return a.eachCustomerID(ctx, func(id string) error { return write(link.ScopeCustomer, id) })
}

// eachCustomerID calls fn for every customer, a page at a time.
func (a *App) eachCustomerID(ctx context.Context, fn func(id string) error) error {
	for after := ""; ; {
		page, err := a.DB.Customers(ctx, after, Batch)
		if err != nil || len(page) == 0 {
			return err
		}
		for _, c := range page {
			if err := fn(c.ID); err != nil {
				return err
			}
			after = c.ID
		}
	}
}
