// Package trial lets invented households with known truth live with the engine, so that what is told them can be judged in
// seconds and without anybody's data.
//
// A Home is everything that will befall a household whatever anybody says: how much is drawn when, what its scale shows, what
// leaks. Live lets people act on what the engine says (they book, weigh, mend, answer); Follow lets one cylinder come to its end
// and only takes down what was said. Years and Scores are the figures of that.
//
// Package sources/simulated cannot serve here: it makes weighings under one law of use, and its state cannot be copied and walked
// ahead. A trial must walk ahead to know what a refill will find, when the gas will end, and whether a loss still goes on when
// somebody comes to stop it.
//
// Of the laws only series is measured. The others are made up and differ widely on purpose: the engine's constants must not be
// tuned to them, and a figure counts only for seeds and laws that were not looked at before.
package trial
