package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/accounts"
)

func staffCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:     "staff",
		Short:   "Manage who may sign in, and their role",
		Example: `  bellbuoy staff add Inge --role desk`,
		Long: `Keeps the list of those who may sign in to the pages. A technician reads plans
and records work; the desk also books, moves and calls; the owner also switches
sending on. A new password or role signs its holder out everywhere.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(staffAddCommand(a), staffListCommand(a), staffRemoveCommand(a), staffSignOutCommand(a), staffUnlockCommand(a))
	return c
}

func staffAddCommand(a *cli) *cobra.Command {
	var role string
	c := &cobra.Command{
		Use:   "add NAME --role technician|desk|owner",
		Short: "Add somebody, or give them a new role and password",
		Example: `  bellbuoy staff add Inge --role desk
  bellbuoy staff add Ruth --role technician < password.txt`,
		Args: cobra.ExactArgs(1),
		PreRunE: func(*cobra.Command, []string) error {
			if !slices.Contains(site.Roles(), role) {
				return usagef("--role %q: want technician, desk or owner", role)
			}
			return nil
		},
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			password, err := a.password("Password for " + args[0] + ": ")
			if err != nil {
				return err
			}
			hash, err := site.HashPassword(password, site.PasswordCost())
			if err != nil {
				return err
			}
			if err := h.SaveStaff(c.Context(), now, actor, accounts.Staff{Name: args[0], Role: role, Hash: hash}); err != nil {
				return err
			}
			return a.done(staffJSON{args[0], role}, "%s may sign in as %s.", args[0], role)
		}),
	}
	c.Flags().StringVar(&role, "role", "", "technician, desk or owner")
	return c
}

// staffJSON is one of "staff list --json", and what "staff add --json" prints.
type staffJSON struct {
	Name string `json:"name"`
	Role string `json:"role"`
}

// noStaff says where names are found, if that is what is wrong.
func noStaff(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return hinted{err, "\"bellbuoy staff list\" shows the names"}
	}
	return err
}

func staffListCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List who may sign in",
		Args:  cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			all, err := accounts.All(c.Context(), h.DB)
			if err != nil {
				return err
			}
			if a.asJSON {
				rows := []staffJSON{}
				for _, s := range all {
					rows = append(rows, staffJSON{s.Name, s.Role})
				}
				return a.printJSON(rows)
			}
			for _, s := range all {
				a.printf("%-24s %s\n", s.Name, s.Role)
			}
			return nil
		}),
	}
}

func staffRemoveCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "remove NAME",
		Short: "Take somebody off the list and sign them out",
		Args:  cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			if err := h.RemoveStaff(c.Context(), now, actor, args[0]); err != nil {
				return noStaff(err)
			}
			return a.done(map[string]string{"removed": args[0]}, "%s may no longer sign in.", args[0])
		}),
	}
}

func staffSignOutCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "sign-out NAME",
		Short: "End all of somebody's sessions; they may sign in again",
		Args:  cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			n, err := h.EndSessions(c.Context(), now, actor, args[0])
			if err != nil {
				return noStaff(err)
			}
			return a.done(map[string]int{"ended": n}, "%s ended.", words.Count(n, "session"))
		}),
	}
}

func staffUnlockCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "unlock NAME",
		Short: "Forget the wrong passwords under a name: they may try again at once",
		Long: `After five wrong passwords for a name from one network within a quarter of an
hour, or fifty from everywhere, the name may be tried once a minute only. This
forgets them. It also works while the daemon runs. A new password does the same.`,
		Args: cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			if err := h.UnlockStaff(c.Context(), now, actor, args[0]); err != nil {
				return noStaff(err)
			}
			return a.done(map[string]string{"unlocked": args[0]}, "%s may try to sign in again at once.", args[0])
		}),
	}
}

// password asks on a terminal without showing what is typed, and reads one line
// from anything else.
func (a *cli) password(prompt string) (string, error) {
	if f, ok := a.in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		fmt.Fprint(a.err, prompt)
		b, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(a.err)
		if err != nil {
			return "", fmt.Errorf("read the password: %w", err)
		}
		return string(b), nil
	}
	line, err := bufio.NewReader(a.in).ReadString('\n')
	if err != nil && err != io.EOF {
		return "", fmt.Errorf("read the password from the input: %w", err)
	}
	return strings.TrimRight(line, "\r\n"), nil
}
