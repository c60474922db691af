package main

import "github.com/spf13/cobra"

func climateCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "climate",
		Short: "Lay-up deadlines from weather records",
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
}
