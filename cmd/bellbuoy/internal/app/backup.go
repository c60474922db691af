package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
)

// jobBackup names the job of trying to back up in an hour; that it succeeded on
// a day is told by the copy itself.
const jobBackup = "backup"

// settingBackupFault names the setting that holds why the last try failed, empty
// after one that went well.
const settingBackupFault = "backup-fault"

// backupTick keeps the day's copy of the database once its hour has come, and
// removes the copies that are not to be kept any longer. A try that fails is
// made again in the next hour, and one that a stop of the daemon cut short at its next
// start.
func (a *App) backupTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	b := a.Config.Backup
	at = at.In(a.Config.Zone())
	if b.Folder == "" || at.Hour()*60+at.Minute() < minutes(b.Hour) {
		return nil
	}
	hour := at.UTC().Format("2006-01-02T15")
	first, err := a.db.OncePer(ctx, jobBackup, hour, at)
	if err != nil || !first {
		return err
	}
	made, err := a.backUpDay(ctx, a.Day(at))
	if made != "" {
		log.InfoContext(ctx, "backed up", "file", made)
	}
	if err != nil && ctx.Err() != nil {
		return errors.Join(err, a.db.ForgetTick(context.WithoutCancel(ctx), jobBackup, hour))
	}
	fault := ""
	if err != nil {
		fault = fmt.Sprintf("%s: %v", a.Day(at), err)
	}
	// To be written down also when the daemon is being stopped.
	return errors.Join(err, a.db.SetSetting(context.WithoutCancel(ctx), settingBackupFault, []byte(fault)))
}

// backUpDay makes the copy of a day in the folder of the settings, unless it is
// there, and removes those whose time is over. It returns the file that it made.
func (a *App) backUpDay(ctx context.Context, today civil.Day) (made string, err error) {
	folder := a.Config.Path(a.Config.Backup.Folder)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return "", fmt.Errorf("folder for backups: %w", err)
	}
	path := filepath.Join(folder, a.copyName(today))
	if _, err := os.Stat(path); err == nil {
		return "", nil
	}
	if err := a.BackUp(ctx, path); err != nil {
		return "", err
	}
	return path, a.prune(folder)
}

// LeftBehind is what a shop whose database is gone has left: the newest of its
// backups, else what was written beside the database while it ran; "" for nothing.
func LeftBehind(c *config.Config) (path string, backup bool, err error) {
	a := &App{Config: c}
	if c.Backup.Folder != "" {
		folder := c.Path(c.Backup.Folder)
		days, err := a.backupDays(folder)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", false, fmt.Errorf("look for backups: %w", err)
		}
		if len(days) > 0 {
			return filepath.Join(folder, a.copyName(days[len(days)-1])), true, nil
		}
	}
	if c.Pages() != nil && c.CanChange() == "" {
		return c.PagesFile(), false, nil
	}
	path = c.Path(c.Files.Database) + "-wal"
	if _, err := os.Stat(path); err != nil {
		return "", false, nil
	}
	return path, false, nil
}

// copyName is the file name of a day's copy: "bellbuoy-2026-11-25.db".
func (a *App) copyName(d civil.Day) string { return a.copyPrefix() + d.String() + ".db" }

func (a *App) copyPrefix() string {
	name := filepath.Base(a.Config.Files.Database)
	return strings.TrimSuffix(name, filepath.Ext(name)) + "-"
}

// backupDays lists the days of which a folder holds a copy, oldest first.
func (a *App) backupDays(folder string) ([]civil.Day, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	var days []civil.Day
	for _, e := range entries {
		name, ours := strings.CutPrefix(e.Name(), a.copyPrefix())
		name, db := strings.CutSuffix(name, ".db")
		if d, err := civil.Parse(name); ours && db && err == nil && e.Type().IsRegular() {
			days = append(days, d)
		}
	}
	slices.Sort(days)
	return days, nil
}

// LastBackup is when the newest copy was made, the zero time if there is none.
func (a *App) LastBackup() (time.Time, error) {
	folder := a.Config.Path(a.Config.Backup.Folder)
	if a.Config.Backup.Folder == "" {
		return time.Time{}, nil
	}
	days, err := a.backupDays(folder)
	if errors.Is(err, fs.ErrNotExist) || len(days) == 0 && err == nil {
		return time.Time{}, nil
	}
	if err != nil {
		return time.Time{}, err
	}
	info, err := os.Stat(filepath.Join(folder, a.copyName(days[len(days)-1])))
	if err != nil {
		return time.Time{}, err
	}
	return info.ModTime(), nil
}

// prune removes the copies that are not to be kept.
func (a *App) prune(folder string) error {
	days, err := a.backupDays(folder)
	if err != nil {
		return fmt.Errorf("look for old backups: %w", err)
	}
	sizes := map[civil.Day]int64{}
	for _, d := range days {
		info, err := os.Stat(filepath.Join(folder, a.copyName(d)))
		if err != nil {
			return fmt.Errorf("look for old backups: %w", err)
		}
		sizes[d] = info.Size()
	}
	keep := Fitting(Retained(days, a.Config.Backup), sizes, int64(a.Config.Backup.MostMB)<<20)
	for _, d := range days {
		if keep[d] {
			continue
		}
		if err := os.Remove(filepath.Join(folder, a.copyName(d))); err != nil {
			return fmt.Errorf("remove an old backup: %w", err)
		}
	}
	return nil
}

// Retained picks the copies to keep from the days on which there is one: the
// newest days, and the newest copy of each of the newest weeks and months. Days,
// weeks and months without a copy do not count, so that a daemon that was off
// for a year loses nothing.
func Retained(days []civil.Day, b config.Backup) map[civil.Day]bool {
	keep := map[civil.Day]bool{}
	newest := slices.SortedFunc(slices.Values(days), func(a, b civil.Day) int { return int(b - a) })
	pick := func(most int, period func(civil.Day) int) {
		seen := map[int]bool{}
		for _, d := range newest {
			if p := period(d); !seen[p] && len(seen) < most {
				seen[p], keep[d] = true, true
			}
		}
	}
	pick(b.Daily, func(d civil.Day) int { return int(d) })
	pick(b.Weekly, func(d civil.Day) int { return int(d.Week()) })
	pick(b.Monthly, func(d civil.Day) int { return d.Year()*12 + int(d.Month()) })
	return keep
}

// leastCopies is how many of the newest copies stay, however large they are.
const leastCopies = 3

// Fitting leaves out the oldest of the copies to keep that do not fit into so many
// bytes together with the newer ones; most 0 leaves out none.
func Fitting(keep map[civil.Day]bool, sizes map[civil.Day]int64, most int64) map[civil.Day]bool {
	newest := slices.SortedFunc(maps.Keys(keep), func(a, b civil.Day) int { return int(b - a) })
	fits, sum := map[civil.Day]bool{}, int64(0)
	for i, d := range newest {
		if sum += sizes[d]; most == 0 || sum <= most || i < leastCopies {
			fits[d] = true
		}
	}
	return fits
}

// mostBackupAge is after how many days without a copy the shop is told.
const mostBackupAge = 3

// checkBackups says what is wrong with the copies: the last try failed, or the
// newest one is old. A shop that never had one, because its daemon never ran,
// hears nothing.
func (a *App) checkBackups(ctx context.Context, today civil.Day) ([]string, error) {
	if a.Config.Backup.Folder == "" {
		return nil, nil
	}
	fault, err := a.DB.Setting(ctx, settingBackupFault)
	if err != nil && !isNotFound(err) {
		return nil, err
	}
	if len(fault) > 0 {
		return []string{"the last backup failed: " + string(fault)}, nil
	}
	folder := a.Config.Path(a.Config.Backup.Folder)
	days, err := a.backupDays(folder)
	if errors.Is(err, fs.ErrNotExist) || len(days) == 0 && err == nil {
		return nil, nil
	}
	if err != nil {
		return []string{fmt.Sprintf("the folder for backups cannot be read: %v", err)}, nil
	}
	if last := days[len(days)-1]; today-last > mostBackupAge {
		return []string{fmt.Sprintf("the newest backup in %q is of %s; \"bellbuoy serve\" makes one each day while it runs", folder, last)}, nil
	}
	return nil, nil
}
