package main

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// versionJSON is what "version --json" prints. Version is the module's, or
// "(devel)" for a program built from a checkout; Revision is the commit, with a
// plus sign where files were changed since.
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
			return a.done(v, "bellbuoy %s %s, %s, %s", v.Version, v.Revision, v.Go, v.System)
		},
	}
}

// thisProgram is what the program was built from and with.
func thisProgram() versionJSON {
	v := versionJSON{Version: "(devel)", Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return v
	}
	v.Version = info.Main.Version
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
