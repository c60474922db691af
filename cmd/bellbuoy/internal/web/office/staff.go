package office

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store"
	"bellbuoy/store/accounts"
)

// staffPage is who may sign in.
type staffPage struct {
	People []accounts.Staff
	Roles  []string
	Form   string
	Fault  string
}

func (s pages) staff(r *http.Request) (site.Response, error) { return s.staffAgain(r, nil) }

// staffAgain shows the page, with why its form was refused.
func (s pages) staffAgain(r *http.Request, refused site.Refusals) (site.Response, error) {
	people, err := accounts.All(r.Context(), s.App.DB)
	p := staffPage{People: people, Roles: site.Roles(), Form: site.NewForm(), Fault: refused.Words()}
	return site.Response{Page: "staff.html", Data: &p, Refused: refused}, err
}

// editStaff gives somebody an account, another role or another password, signs them
// out or takes the account away.
func (s pages) editStaff(r *http.Request) (site.Response, error) {
	name := strings.TrimSpace(r.PostFormValue("name"))
	var note string
	var err error
	switch r.PostFormValue("do") {
	case "save":
		note = name + " may sign in as " + r.PostFormValue("role") + "."
		err = s.saveAccount(r, name)
	case "remove":
		note = name + " may no longer sign in."
		err = s.App.RemoveAccount(r.Context(), s.Now(), site.Actor(r), name)
	case "sign-out":
		note = name + " is signed out everywhere."
		_, err = s.App.EndSessions(r.Context(), s.Now(), site.Actor(r), name)
	default:
		err = site.NewProblem(http.StatusBadRequest, "The form is incomplete. Press one of its buttons.")
	}
	if errors.Is(err, store.ErrNotFound) {
		note, err = "There is no account of that name any more.", nil
	}
	if all, ok := site.Refused(err); ok {
		return s.staffAgain(r, all)
	}
	return site.Response{To: "/staff", Note: note}, err
}

func (s pages) saveAccount(r *http.Request, name string) error {
	account := accounts.Staff{Name: name, Role: r.PostFormValue("role")}
	people, err := accounts.All(r.Context(), s.App.DB)
	if err != nil {
		return err
	}
	known := slices.ContainsFunc(people, func(p accounts.Staff) bool { return strings.EqualFold(p.Name, name) })
	password := r.PostFormValue("password")
	switch {
	case name == "":
		return site.At("name", "Name: write the name that they sign in with.")
	case !slices.Contains(site.Roles(), account.Role):
		return site.At("role", "Role: choose one of the three.")
	case password == "" && !known:
		return site.At("password", "Password: a new account needs one.")
	case password != "":
		if account.Hash, err = site.HashPassword(password, cmp.Or(s.PasswordCost, site.PasswordCost())); err != nil {
			return site.At("password", "Password: "+strings.TrimPrefix(err.Error(), "password: ")+".")
		}
	}
	return s.App.SaveAccount(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), account)
}
