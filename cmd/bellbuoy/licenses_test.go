package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// licenseNames are licenses by what stands in their text. None of them asks that
// what is linked with it be given away.
var licenseNames = []struct{ words, name string }{
	{"apache license", "Apache-2.0"},
	{"mozilla public license version 2.0", "MPL-2.0"},
	{"permission is hereby granted, free of charge", "MIT"},
	{"neither the name", "BSD-3-Clause"},
	{"redistribution and use in source and binary forms", "BSD-2-Clause"}, // unless it is the one above
	{"permission to use, copy, modify, and/or distribute", "ISC"},
}

// licenses lists the modules that are built into the program, with the licenses
// that lie beside them.
func licenses(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("# What is built into the program\n\nMade by a test of what `go list -deps` names and the license files of those modules; Go's own library (BSD-3-Clause)\ncomes with them, and C that was made into Go inside `modernc.org/sqlite` and `modernc.org/libc` (public domain, MIT; their\nLICENSE-3RD-PARTY.md). Tests use more modules, which are in no release.\n\n| module | version | license |\n|---|---|---|\n")
	for _, m := range builtIn(t) {
		path, version, dir := m[0], m[1], m[2]
		names := licensesIn(t, dir)
		if len(names) == 0 {
			t.Errorf("%s: no license that we know in %s", path, dir)
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", path, version, strings.Join(names, ", "))
	}
	return b.String()
}

// builtIn are the modules of the program on all systems that it is released for:
// path, version and folder of each.
func builtIn(t *testing.T) (all [][]string) {
	t.Helper()
	for _, system := range []string{"linux", "darwin", "windows"} {
		cmd := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}", ".")
		cmd.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("go list: %v", err)
		}
		for line := range strings.Lines(string(out)) {
			if m := strings.Split(strings.TrimSpace(line), "\t"); len(m) == 3 && !slices.ContainsFunc(all, func(o []string) bool { return o[0] == m[0] }) {
				all = append(all, m)
			}
		}
	}
	slices.SortFunc(all, func(a, b []string) int { return strings.Compare(a[0], b[0]) })
	return all
}

var (
	licenseFile = regexp.MustCompile(`(?i)^(licen[sc]e|copying)`)
	blanks      = regexp.MustCompile(`\s+`)
)

func licensesIn(t *testing.T, dir string) (names []string) {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		// What a list of third parties names is a module of its own, or was made into Go.
		if f.IsDir() || !licenseFile.MatchString(f.Name()) || strings.Contains(f.Name(), "3RD-PARTY") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		plain := blanks.ReplaceAllString(strings.ToLower(string(text)), " ")
		var of []string
		for _, l := range licenseNames {
			if strings.Contains(plain, l.words) && !(l.name == "BSD-2-Clause" && slices.Contains(of, "BSD-3-Clause")) {
				of = append(of, l.name)
			}
		}
		if strings.Contains(plain, "gnu general public license") {
			t.Errorf("%s: a license that asks for the whole program's source", filepath.Join(dir, f.Name()))
		}
		names = append(names, of...)
	}
	slices.Sort(names)
	return slices.Compact(names)
}
