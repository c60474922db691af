// Package web is the whole site: it hands the wings, the pages of each kind of
// reader, to the frame (package site), which decides who may and answers.
package web

import (
	"bellbuoy/cmd/bellbuoy/internal/web/boat"
	"bellbuoy/cmd/bellbuoy/internal/web/customer"
	"bellbuoy/cmd/bellbuoy/internal/web/office"
	"bellbuoy/cmd/bellbuoy/internal/web/owner"
	"bellbuoy/cmd/bellbuoy/internal/web/people"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/cmd/bellbuoy/internal/web/week"
)

// New prepares the site with all its wings; templates and static files are
// checked now, so that a fault in them stops the program and not a customer.
func New(o site.Options) (*site.Site, error) {
	return site.New(o,
		site.Wing{Routes: week.Routes},
		site.Wing{Routes: boat.Routes},
		site.Wing{Routes: people.Routes},
		site.Wing{Routes: office.Routes},
		site.Wing{Routes: owner.Routes, Funcs: owner.Words},
		site.Wing{Routes: customer.Routes},
	)
}
