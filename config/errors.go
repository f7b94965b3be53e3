package config

import "tarebell/forecast/unit/mistake"

// Errors is everything wrong in a config file, in file order. It is never empty when returned.
type Errors struct{ mistake.List }
