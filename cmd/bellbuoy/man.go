package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

func manCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "man",
		Short:   "Print the manual page, made of the help of every command",
		Example: `  bellbuoy man > /usr/local/share/man/man1/bellbuoy.1`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			a.printf("%s", manPage(c.Root()))
			return nil
		},
	}
}

// manPage is the program's page in roff's man macros.
func manPage(root *cobra.Command) string {
	var b strings.Builder
	fmt.Fprintf(&b, ".TH BELLBUOY 1\n.SH NAME\nbellbuoy \\- %s\n.SH SYNOPSIS\n.B bellbuoy\n[\\fIcommand\\fR] [\\fIoptions\\fR]\n.SH DESCRIPTION\n%s\n.SH COMMANDS\n",
		roff(root.Short), roff(root.Long))
	each(root, func(c *cobra.Command) {
		fmt.Fprintf(&b, ".SS %s\n%s.\n", roff(strings.TrimPrefix(c.UseLine(), "bellbuoy ")), roff(c.Short))
		if c.Long != "" {
			fmt.Fprintf(&b, ".PP\n.nf\n%s\n.fi\n", roff(c.Long))
		}
		if flags := c.LocalFlags().FlagUsages(); flags != "" {
			fmt.Fprintf(&b, ".PP\n.nf\n%s.fi\n", roff(flags))
		}
		if c.Example != "" {
			fmt.Fprintf(&b, ".PP\nExamples:\n.PP\n.nf\n%s\n.fi\n", roff(c.Example))
		}
	})
	fmt.Fprintf(&b, ".SH OPTIONS OF EVERY COMMAND\n.nf\n%s.fi\n", roff(root.PersistentFlags().FlagUsages()))
	b.WriteString(".SH EXIT STATUS\n0 fine, 1 findings or failure, 2 a command line that cannot be understood.\n" +
		".SH FILES\n.TP\n.I bellbuoy.toml\nthe settings; every one is explained in the file that \"bellbuoy init\" writes.\n")
	return b.String()
}

// each calls fn for every command that help lists, and for those below it.
func each(c *cobra.Command, fn func(*cobra.Command)) {
	for _, sub := range c.Commands() {
		if !sub.IsAvailableCommand() || sub.Name() == "help" || sub.Name() == "completion" {
			continue
		}
		fn(sub)
		each(sub, fn)
	}
}

// roff escapes what roff would take for its own.
func roff(s string) string {
	lines := strings.Split(strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, ".") || strings.HasPrefix(l, "'") {
			lines[i] = `\&` + l
		}
	}
	return strings.Join(lines, "\n")
}
