// Package level fits visits into the weeks that the shop can really work.
package level
