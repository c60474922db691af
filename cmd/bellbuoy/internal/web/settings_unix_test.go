//go:build unix

package web_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// TestTheSettingsFileKeepsOwnerAndMode: a page that root's daemon saves leaves a file
// that the folder's owner can read, and keeps the mode that somebody gave it. Where
// nothing can be written the page says so.
func TestTheSettingsFileKeepsOwnerAndMode(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root gives files away")
	}
	s := newTestShop(t)
	owner := s.hire("Odile", "owner")
	folder := filepath.Dir(s.app.Config.Name())
	path := filepath.Join(folder, "settings.toml")
	const service = 12345
	if err := os.Chown(folder, service, service); err != nil {
		t.Fatal(err)
	}
	look := func(mode os.FileMode) {
		t.Helper()
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if uid := info.Sys().(*syscall.Stat_t).Uid; uid != service || info.Mode().Perm() != mode {
			t.Errorf("the file is %d's, %v", uid, info.Mode())
		}
	}
	s.saved(owner, "reminders", url.Values{"reminders.gap_days": {"10"}})
	look(0o600)
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	s.saved(owner, "reminders", url.Values{"reminders.gap_days": {"11"}})
	look(0o640)
	form := s.settingsForm(owner, "reminders")
	form.Set("reminders.gap_days", "12")
	if err := os.Mkdir(path+".part", 0o700); err != nil {
		t.Fatal(err)
	}
	s.as(owner, "POST", "/settings/reminders", form).code(http.StatusUnprocessableEntity).says("The settings could not be saved")
	if got := s.app.Config.Reminders.GapDays; got != 11 {
		t.Errorf("it goes on by %d", got)
	}
}
