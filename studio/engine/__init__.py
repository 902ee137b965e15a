"""Functions on numbers and arrays, one folder for each noun of the trade. The engine never sees a Design."""
