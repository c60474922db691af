package main

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/testkit"
)

// deployed reads a file of the folder deploy.
func deployed(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "deploy", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// hasProgram reports whether an outside program is installed.
func hasProgram(name string) bool {
	_, err := exec.LookPath(name)
	return err == nil
}

// unitFile writes a unit with a program that is there on this machine.
func unitFile(t *testing.T, name string) string {
	t.Helper()
	testkit.Needs(t, hasProgram("systemd-analyze"), "systemd-analyze, of Debian's package systemd,")
	const program = "/usr/local/bin/bellbuoy"
	unit := deployed(t, name)
	if strings.Count(unit, "ExecStart="+program+" ") != 1 {
		t.Fatalf("the unit does not start %s", program)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(strings.Replace(unit, "ExecStart="+program, "ExecStart=/bin/true", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestUnitVerifies asks systemd whether it understands every line of the unit.
func TestUnitVerifies(t *testing.T) {
	for name, asked := range map[string]string{"bellbuoy.service": "bellbuoy.service", "bellbuoy@.service": "bellbuoy@second.service"} {
		path := filepath.Join(filepath.Dir(unitFile(t, name)), asked)
		if name != asked { // a template is verified by one of its units
			if err := os.WriteFile(path, []byte(strings.ReplaceAll(deployed(t, name), "ExecStart=/usr/local/bin/bellbuoy", "ExecStart=/bin/true")), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if out, err := exec.Command("systemd-analyze", "verify", path).CombinedOutput(); err != nil || strings.Contains(string(out), asked+":") {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
}

// TestFurtherShopsHaveTheSameUnit holds the unit for further shops to the one for
// the first: no line may differ but those that keep shops apart.
func TestFurtherShopsHaveTheSameUnit(t *testing.T) {
	lines := func(name string) (all []string) {
		for line := range strings.Lines(deployed(t, name)) {
			if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
				all = append(all, line)
			}
		}
		return all
	}
	apart := strings.NewReplacer("bellbuoy-%i", "bellbuoy", "/%i.toml", "/bellbuoy.toml", " for %i", "")
	var further []string
	for _, line := range lines("bellbuoy@.service") {
		further = append(further, apart.Replace(line))
	}
	if diff := cmp.Diff(lines("bellbuoy.service"), further); diff != "" {
		t.Errorf("-first +further:\n%s", diff)
	}
}

// TestAlertsAskForWhatThereIs holds the alert rules to what the daemon shows: a
// rule about a name that there is not never alerts.
func TestAlertsAskForWhatThereIs(t *testing.T) {
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, "worked"))
	d := s.serve(t)
	_, shown := d.get(t, http.MethodGet, d.base+"/metrics")
	d.stop(t)
	asked := regexp.MustCompile(`bellbuoy_[a-z_]+(\{[a-z]+="[a-z-]+"\})?`).FindAllString(deployed(t, "alerts.yml"), -1)
	if len(asked) < 6 {
		t.Fatalf("only %q", asked)
	}
	for _, name := range asked {
		if n, _, when := strings.Cut(name, `{what="`); when { // a new shop has no backup and no turn yet
			name, shown = n, shown+"\nbellbuoy_last_good_timestamp_seconds"
		}
		if !strings.Contains(shown, "\n"+name) {
			t.Errorf("there is no %s in\n%s", name, shown)
		}
	}
}

// mostExposure is how much of the machine the unit may reach, on systemd's scale
// from 0 to 10.
const mostExposure = 1.5

func TestUnitIsTight(t *testing.T) {
	path := unitFile(t, "bellbuoy.service")
	out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	m := regexp.MustCompile(`Overall exposure level for bellbuoy.service: ([0-9.]+)`).FindSubmatch(out)
	if m == nil {
		t.Fatalf("no level in\n%s", out)
	}
	if level, err := strconv.ParseFloat(string(m[1]), 64); err != nil || level > mostExposure {
		t.Errorf("exposure %s, want at most %v: %v\n%s", m[1], mostExposure, err, out)
	}
}

// TestProxyConfigIsUnderstood gives the example to nginx, with a certificate made
// for the test.
func TestProxyConfigIsUnderstood(t *testing.T) {
	testkit.Needs(t, hasProgram("nginx") && hasProgram("openssl"), "nginx or openssl")
	dir := t.TempDir()
	cert := exec.Command("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=service.example.com",
		"-keyout", filepath.Join(dir, "key.pem"), "-out", filepath.Join(dir, "fullchain.pem"))
	if out, err := cert.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	site := strings.NewReplacer("/etc/ssl/bellbuoy/", dir+"/", "/var/log/nginx/", dir+"/").Replace(deployed(t, "nginx.conf"))
	whole := "pid " + dir + "/pid;\nerror_log " + dir + "/error.log;\nevents {}\nhttp {\n" + site + "}\n"
	path := filepath.Join(dir, "nginx.conf")
	if err := os.WriteFile(path, []byte(whole), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("nginx", "-t", "-c", path, "-e", filepath.Join(dir, "error.log")).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestDeployedSettingsAreTheTemplate holds the example to what "bellbuoy init"
// writes, which explains every setting.
func TestDeployedSettingsAreTheTemplate(t *testing.T) {
	if *updateDocuments {
		if err := os.WriteFile(filepath.Join("..", "..", "deploy", "bellbuoy.toml"), config.Initial(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if deployed(t, "bellbuoy.toml") != string(config.Initial()) {
		t.Error("deploy/bellbuoy.toml is not what \"bellbuoy init\" writes; write it with -update")
	}
}

// TestDeployPagesNameRealCommands looks for every "bellbuoy COMMAND", and the
// short form of it, in the pages that are read at night.
func TestDeployPagesNameRealCommands(t *testing.T) {
	root := rootCommand(env{})
	call := regexp.MustCompile("(?:^|[ `])(?:bellbuoy(?: --config [^ ]+)?|B) ([a-z]+)\\b")
	found := 0
	for _, name := range []string{"upgrade.md", "disaster.md", "export.md", "platforms.md", "litestream.yml", "bellbuoy.service", "bellbuoy@.service", "alerts.yml", "scrape.yml", "Containerfile"} {
		for line := range strings.Lines(deployed(t, name)) {
			for _, m := range call.FindAllStringSubmatch(line, -1) {
				word := m[1]
				if strings.Contains(" as for is in to on has put makes /usr ", " "+word+" ") {
					continue // prose
				}
				if c, _, err := root.Find([]string{word}); err != nil || c == root {
					t.Errorf("%s: there is no command %q: %s", name, word, strings.TrimSpace(line))
				}
				found++
			}
		}
	}
	if found < 12 {
		t.Errorf("only %d commands found", found)
	}
}

// TestNightPagesAreShort keeps what is read at night to two screens.
func TestNightPagesAreShort(t *testing.T) {
	for _, name := range []string{"upgrade.md", "disaster.md"} {
		if n := strings.Count(deployed(t, name), "\n"); n == 0 || n > 70 {
			t.Errorf("%s has %d lines", name, n)
		}
	}
}
