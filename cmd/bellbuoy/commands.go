package main

import "github.com/spf13/cobra"

// commands lists every command in the order in which help shows it. To add one,
// write it in a file of its own and name it here.
var commands = []func(*cli) *cobra.Command{
	demoCommand,
	initCommand,
	serveCommand,
	reloadCommand,
	importCommand,
	duplicatesCommand,
	dueCommand,
	planCommand,
	hoursCommand,
	recordCommand,
	followUpCommand,
	overrideCommand,
	bookCommand,
	transferCommand,
	weeksCommand,
	partsCommand,
	feedCommand,
	keyCommand,
	mailCommand,
	returnsCommand,
	climateCommand,
	rulesCommand,
	staffCommand,
	backupCommand,
	restoreCommand,
	exportCommand,
	customerCommand,
	checkCommand,
	versionCommand,
	manCommand,
}
