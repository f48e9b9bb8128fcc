# Average run lengths of two-sided EWMA charts (steady limits) of independent normal values, by R's spc.
suppressMessages({library(spc); library(jsonlite)})
shifts <- c(0, 0.5, 1, 2)
ewma <- sapply(shifts, function(m) xewma.arl(0.2, 2.7, m, sided = "two"))
cat(toJSON(list(ewma_weight = 0.2, ewma_limit = 2.7, lengths = data.frame(shift = shifts, ewma = ewma)),
           auto_unbox = TRUE, digits = 10))
