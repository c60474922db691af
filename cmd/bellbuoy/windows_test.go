package main

import (
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/testkit"
)

// winePath is where Debian's package wine64 puts the loader itself.
const winePath = "/usr/lib/wine/wine64"

// prng stands in for a library of Windows that Wine 8 lacks and Go asks for random
// bytes: it hands on what the older advapi32 gives.
const prng = `#include <windows.h>
BOOLEAN WINAPI SystemFunction036(PVOID, ULONG);
__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE p, SIZE_T n) { return SystemFunction036(p, (ULONG)n); }
`

// wine runs programs for Windows in a folder of the test's.
type wine struct {
	t        *testing.T
	exe, dir string
	env      []string
}

func newWine(t *testing.T) *wine {
	t.Helper()
	const cc = "x86_64-w64-mingw32-gcc"
	_, err := os.Stat(winePath)
	testkit.Needs(t, err == nil && hasProgram(cc), "wine64 or gcc-mingw-w64-x86-64, Debian's packages,")
	w := &wine{t: t, exe: filepath.Join(t.TempDir(), "bellbuoy.exe"), dir: t.TempDir()}
	prefix := filepath.Join(t.TempDir(), "prefix")
	w.env = append(os.Environ(), "WINEPREFIX="+prefix, "WINEDEBUG=-all", "GOOS=windows", "GOARCH=amd64", "CGO_ENABLED=0")
	w.tool("go", "build", "-o", w.exe, ".")
	t.Cleanup(func() {
		c := exec.Command("wineserver", "-k")
		c.Env = w.env
		c.Run() // it also fails when everything has ended by itself
	})
	w.tool("wineboot", "--init")
	w.tool("wineserver", "-w") // until all that it started has ended
	source := filepath.Join(t.TempDir(), "prng.c")
	if err := os.WriteFile(source, []byte(prng), 0o600); err != nil {
		t.Fatal(err)
	}
	w.tool(cc, "-shared", "-o", filepath.Join(prefix, "drive_c", "windows", "system32", "bcryptprimitives.dll"), source, "-ladvapi32")
	return w
}

// tool runs a program of this machine.
func (w *wine) tool(name string, args ...string) {
	w.t.Helper()
	c := exec.Command(name, args...)
	c.Env = w.env
	if out, err := c.CombinedOutput(); err != nil {
		w.t.Fatalf("%s: %v\n%s", name, err, out)
	}
}

// bellbuoy is one run of the program for Windows.
func (w *wine) bellbuoy(args ...string) *exec.Cmd {
	c := exec.Command(winePath, append([]string{w.exe}, args...)...)
	c.Dir, c.Env = w.dir, w.env
	return c
}

// says runs the program and wants words in what it prints.
func (w *wine) says(want string, args ...string) {
	w.t.Helper()
	out, err := w.bellbuoy(args...).CombinedOutput()
	if err != nil || !strings.Contains(string(out), want) {
		w.t.Errorf("%q: %v, want %q in\n%s", args, err, want, out)
	}
}

// serve starts the daemon and waits until it answers.
func (w *wine) serve() *exec.Cmd {
	w.t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0") // a port that no daemon before it had
	if err != nil {
		w.t.Fatal(err)
	}
	address := ln.Addr().String()
	ln.Close()
	client := &http.Client{Timeout: 5 * time.Second}
	c := w.bellbuoy("serve", "--listen", address)
	if err := c.Start(); err != nil {
		w.t.Fatal(err)
	}
	for end := time.Now().Add(patience); ; time.Sleep(100 * time.Millisecond) {
		resp, err := client.Get("http://" + address + "/sign-in")
		if err == nil {
			page, _ := io.ReadAll(resp.Body)
			resp.Body.Close()
			if resp.StatusCode != http.StatusOK || !strings.Contains(string(page), "password") {
				w.t.Errorf("status %d:\n%s", resp.StatusCode, page)
			}
			return c
		}
		if time.Now().After(end) {
			c.Process.Kill()
			w.t.Fatalf("no answer: %v", err)
		}
	}
}

// TestWindows sets up a shop with the program built for Windows, lets it be killed
// while it answers, and saves and restores it.
func TestWindows(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program for Windows")
	}
	w := newWine(t)
	w.says("Wrote bellbuoy.toml", "init")
	files := filepath.Join(w.dir, "files")
	if err := os.CopyFS(files, os.DirFS(filepath.Join(testdata, "worked"))); err != nil {
		t.Fatal(err)
	}
	w.says("4 boats planned", "import", "files")
	w.says("Perch Pressure", "plan", "PERCH")
	for range 2 { // the second one opens what the first one left
		c := w.serve()
		c.Process.Kill()
		c.Wait()
	}
	w.says("Wrote copy.db", "backup", "copy.db")
	w.says("Wrote everything", "export", "exported")
	w.says("The shop is that of copy.db", "restore", "copy.db")
	w.says("Perch Pressure", "plan", "PERCH")
}
