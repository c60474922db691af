package site

import (
	"cmp"
	"errors"
	"net/http"
	"strings"

	"bellbuoy/store/accounts"
)

// Roles are what an account may be, from the least to the most.
func Roles() []string { return []string{"technician", "desk", "owner"} }

// passwordPage is the form for one's own password.
type passwordPage struct{ Name, Form, Fault string }

func (s *Site) passwordForm(r *http.Request) (Response, error) { return s.passwordAgain(r, nil) }

// passwordAgain shows the form, with why it was refused.
func (s *Site) passwordAgain(r *http.Request, refused Refusals) (Response, error) {
	return Response{Page: "password.html", Data: passwordPage{Actor(r), NewForm(), refused.Words()}, Refused: refused}, nil
}

// changePassword takes a new password from somebody who knows the old one. Wrong
// ones count as they do at the sign-in.
func (s *Site) changePassword(r *http.Request) (Response, error) {
	who, err := accounts.ByName(r.Context(), s.App.DB, Actor(r))
	if err != nil {
		return Response{}, err
	}
	a := newAttempt(s.Now(), who.Name, network(s.visitor(r)))
	if wait := s.throttle.begin(a, who.Unlocked); wait > 0 {
		return s.passwordAgain(r, Refusals{At("old", "Too many wrong passwords. Try again in a minute.")})
	}
	ok, err := s.passwords.matches(r.Context(), r.PostFormValue("old"), who.Hash)
	switch {
	case errors.Is(err, errBusy):
		s.throttle.takeBack(a)
		return s.passwordAgain(r, Refusals{At("", "Too many passwords are being checked at once. Try again in a few seconds.")})
	case err != nil:
		s.throttle.takeBack(a)
		return Response{}, err
	case !ok:
		return s.passwordAgain(r, Refusals{At("old", "That is not the present password.")})
	}
	s.throttle.succeeded(a)
	if who.Hash, err = HashPassword(r.PostFormValue("new"), cmp.Or(s.PasswordCost, PasswordCost())); err != nil {
		return s.passwordAgain(r, Refusals{At("new", "New password: "+strings.TrimPrefix(err.Error(), "password: ")+".")})
	}
	err = s.App.SaveAccount(r.Context(), s.Now(), who.Name, r.PostFormValue("form"), accounts.Staff{Name: who.Name, Role: who.Role, Hash: who.Hash})
	if all, ok := Refused(err); ok {
		return s.passwordAgain(r, all)
	}
	return Response{To: "/sign-in", Note: "Your password is changed. You are signed out everywhere: sign in with the new one."}, err
}
