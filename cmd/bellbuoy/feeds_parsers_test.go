package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule/testkit"
)

// seenEvent is an event as an outside parser read it; see
// notify/feed/testdata/parse_*.
type seenEvent struct {
	Feed        string `json:"feed"` // the file
	UID         string `json:"uid"`
	Summary     string `json:"summary"`
	Description string `json:"description"`
	Location    string `json:"location"`
	Status      string `json:"status"`
	Start       string `json:"start"`
	End         string `json:"end"`
	LastMod     string `json:"lastmod"`
	Sequence    int    `json:"sequence"`
}

// parsers are three that have nothing in common with this program. Each gives
// the command that prints what it reads in files.
var parsers = []struct {
	name    string
	command func(t *testing.T) []string
}{
	{"libical", libicalCommand},
	{"icalendar", icalendarCommand},
	{"ical.js", icalJSCommand},
}

var parserFolder = filepath.Join("..", "..", "notify", "feed", "testdata")

func icalendarCommand(t *testing.T) []string {
	// Debian's module belongs to Debian's Python, not to the first in PATH.
	const python = "/usr/bin/python3"
	testkit.Needs(t, exec.Command(python, "-c", "import icalendar").Run() == nil, "python3-icalendar")
	return []string{python, filepath.Join(parserFolder, "parse_icalendar.py")}
}

func icalJSCommand(t *testing.T) []string {
	npm := os.Getenv("BELLBUOY_NPM")
	_, err := os.Stat(filepath.Join(npm, "node_modules", "ical.js"))
	node, missing := exec.LookPath("node")
	testkit.Needs(t, npm != "" && err == nil && missing == nil, "node, or ical.js in the folder that BELLBUOY_NPM names,")
	return []string{node, filepath.Join(parserFolder, "parse_icaljs.mjs")}
}

func libicalCommand(t *testing.T) []string {
	flags, err := exec.Command("pkg-config", "--cflags", "--libs", "libical").Output()
	testkit.Needs(t, err == nil, "libical-dev or pkg-config")
	parse := filepath.Join(t.TempDir(), "parse")
	args := append([]string{"-o", parse, filepath.Join(parserFolder, "parse_libical.c")}, strings.Fields(string(flags))...)
	if out, err := exec.Command("cc", args...).CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	return []string{parse}
}

// parseAll has one parser read all files, in one process, and returns the
// events of each in their order.
func parseAll(t *testing.T, command, files []string) map[string][]seenEvent {
	t.Helper()
	cmd := exec.Command(command[0], append(command[1:], files...)...)
	var fault bytes.Buffer
	cmd.Stderr = &fault
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", command, err, fault.Bytes())
	}
	seen := make(map[string][]seenEvent, len(files))
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var e seenEvent
		if err := dec.Decode(&e); err == io.EOF {
			return seen
		} else if err != nil {
			t.Fatalf("%s: %v", command, err)
		}
		file := e.Feed
		e.Feed = ""
		seen[file] = append(seen[file], e)
	}
}
