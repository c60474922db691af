package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"bellbuoy/schedule/testkit"
)

// evolution is the Evolution data server on a session bus of its own, asked by
// a small program: the calendar that several Linux desktops share.
type evolution struct {
	ask    io.Writer
	answer *bufio.Scanner
}

// subscribeEvolution has the server subscribe to an address.
func subscribeEvolution(t *testing.T, address string) *evolution {
	t.Helper()
	const python = "/usr/bin/python3"
	_, err := exec.LookPath("dbus-run-session")
	testkit.Needs(t, err == nil, "dbus-run-session")
	testkit.Needs(t, exec.Command(python, "-c", "import gi; gi.require_version('ECal', '2.0'); from gi.repository import ECal").Run() == nil, "gir1.2-ecal-2.0")
	home := t.TempDir()
	cmd := exec.Command("dbus-run-session", "--", python, filepath.Join(testdata, "outside", "eds_client.py"), address)
	cmd.Env = append(os.Environ(), "HOME="+home, "XDG_RUNTIME_DIR="+home, "XDG_CONFIG_HOME="+home, "XDG_DATA_HOME="+home, "XDG_CACHE_HOME="+home,
		"GSETTINGS_BACKEND=memory")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		in.Close() // the program ends, and the bus with all that it started
		if err := cmd.Wait(); err != nil {
			t.Errorf("the Evolution data server: %v", err)
		}
	})
	return &evolution{ask: in, answer: bufio.NewScanner(out)}
}

// shows looks again and returns the events from 1 April 2027 on.
func (e *evolution) shows(t *testing.T) []string {
	t.Helper()
	if _, err := fmt.Fprintln(e.ask, testkit.Text("2027-04-01")); err != nil {
		t.Fatalf("the Evolution data server has gone: %v", err)
	}
	var lines []string
	for e.answer.Scan() {
		if e.answer.Text() == "" {
			slices.Sort(lines)
			return lines
		}
		lines = append(lines, e.answer.Text())
	}
	t.Fatalf("the Evolution data server fell silent: %v", e.answer.Err())
	return nil
}
