package main

import (
	"cmp"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
)

// release is the version of a release or a package; its script sets it
// (-ldflags "-X main.release=1.2.3").
var release string

// versionJSON is what "version --json" prints. Version is that of the release, else
// the module's, or "(devel)" for a program built from a checkout; Revision is the
// commit, with a plus sign where files were changed since, "" where it is not known.
type versionJSON struct {
	Version  string `json:"version"`
	Revision string `json:"revision"`
	Go       string `json:"go"`
	System   string `json:"system"`
}

func versionCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "The version of the program, and what it was built with",
		Example: `  bellbuoy version --json`,
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			v := thisProgram()
			return a.done(v, "bellbuoy %s, %s, %s", strings.TrimSpace(v.Version+" "+v.Revision), v.Go, v.System)
		},
	}
}

// thisProgram is what the program was built from and with.
func thisProgram() versionJSON {
	v := versionJSON{Version: cmp.Or(release, "(devel)"), Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return v
	}
	v.Version = cmp.Or(release, info.Main.Version)
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			v.Revision = s.Value + v.Revision
		case s.Key == "vcs.modified" && s.Value == "true":
			v.Revision += "+"
		}
	}
	return v
}
