//go:build unix

package main

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
)

// settingsForm is the form of a page of settings as a browser has it.
func (k *desk) settingsForm(page string) (url.Values, error) {
	resp, err := k.client.Get(k.base + "/settings/" + page)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = errors.New(resp.Status)
	}
	form := url.Values{}
	for _, m := range regexp.MustCompile(`<input[^>]* name="([^"]+)"[^>]* value="([^"]*)"`).FindAllStringSubmatch(string(body), -1) {
		if !strings.Contains(m[0], `type="checkbox"`) && m[1] != "q" {
			form.Add(m[1], m[2])
		}
	}
	for _, m := range regexp.MustCompile(`(?s)<select[^>]* name="([^"]+)".*?</select>`).FindAllStringSubmatch(string(body), -1) {
		if chosen := regexp.MustCompile(`<option value="([^"]*)"[^>]* selected`).FindStringSubmatch(m[0]); chosen != nil {
			form.Add(m[1], chosen[1])
		}
	}
	return form, err
}

// settings is that form, which must come.
func (k *desk) settings(page string) url.Values {
	k.t.Helper()
	form, err := k.settingsForm(page)
	if err != nil {
		k.t.Fatal(err)
	}
	return form
}

// TestSettingsOfAPageStay saves a page of settings at a real daemon, which is killed
// and started again: it still goes by them, and so does every command; a hangup reads
// both files.
func TestSettingsOfAPageStay(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, "worked"))
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "owner")
	d := s.serve(t)
	k := d.signedIn(t)
	form := k.settings("planning")
	form.Set("plan.percentile", "40")
	k.form("/settings/planning", form)
	form = k.settings("shop")
	form.Set("shop.email", "desk@lindrake.example")
	k.form("/settings/shop", form)
	d.kill()
	d = s.serve(t)
	k = d.signedIn(t)
	if got := k.settings("planning").Get("plan.percentile"); got != "40" {
		t.Errorf("started again, the page shows %q", got)
	}
	if out := s.do(t, "check", "--settings"); !strings.Contains(out, "0.4  (settings.toml, line ") || !strings.Contains(out, "(bellbuoy.toml, line 3)") {
		t.Errorf("the command says\n%s", out)
	}
	pages := filepath.Join(s.dir, "settings.toml")
	if err := os.WriteFile(pages, []byte("[plan]\npercentile = 4\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out := s.tryDo(t, "due"); !strings.Contains(out, "settings.toml:2: plan.percentile: 4") || !strings.Contains(out, "hint: mend that, or move "+pages+" aside") {
		t.Errorf("at the start a command says\n%s", out)
	}
	d.signal(syscall.SIGHUP)
	for end := time.Now().Add(patience); !strings.Contains(d.lines(), "settings not taken; the old ones stay"); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the log does not say it:\n%s", d.lines())
		}
	}
	if err := os.WriteFile(pages, []byte("[plan]\npercentile = 0.3\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s.do(t, "reload")
	if got := k.settings("planning").Get("plan.percentile"); got != "30" {
		t.Errorf("read again, the page shows %q", got)
	}
	d.stop(t)
}

// TestSettingsSurviveKills kills the daemon while pages are saved one after the other:
// what is on file is always whole, and of the last save or the one before it.
func TestSettingsSurviveKills(t *testing.T) {
	rounds := 6
	if testing.Short() {
		rounds = 2
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "owner")
	value := 100
	for round := range rounds {
		d := s.serve(t)
		k := d.signedIn(t)
		done, saved := make(chan int), make(chan struct{}, 1)
		go func() {
			sent := value
			for {
				form, err := k.settingsForm("reminders")
				if err != nil {
					done <- sent
					return
				}
				form.Set("reminders.daily_limit", fmt.Sprint(sent+1))
				req, err := http.NewRequest(http.MethodPost, d.base+"/settings/reminders", strings.NewReader(form.Encode()))
				if err != nil {
					panic(err)
				}
				sent++
				req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				req.Header.Set("Sec-Fetch-Site", "same-origin")
				resp, err := k.client.Do(req)
				if err != nil {
					done <- sent
					return
				}
				resp.Body.Close()
				select {
				case saved <- struct{}{}:
				default:
				}
			}
		}()
		select {
		case <-saved:
		case <-time.After(patience):
			t.Fatal("nothing is saved")
		}
		time.Sleep(time.Duration(37*round) * time.Millisecond)
		d.kill()
		sent := <-done
		c, err := config.Load(s.config())
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if n := c.Reminders.DailyCap; n != sent && n != sent-1 && !(sent <= value+1 && n == 60) {
			t.Errorf("round %d: %d is on file, the last one sent was %d", round, n, sent)
		}
		value = c.Reminders.DailyCap
	}
	if value <= 100 {
		t.Errorf("nothing was ever saved: %d", value)
	}
}
