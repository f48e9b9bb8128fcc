# Average run lengths of two-sided EWMA (steady limits) and CUSUM charts of independent normal values, by R's spc.
suppressMessages({library(spc); library(jsonlite)})
shifts <- c(0.5, 1, 2)
ewma <- sapply(shifts, function(m) xewma.arl(0.2, 2.7, m, sided = "two"))
cusum <- sapply(shifts, function(m) xcusum.arl(0.5, 4, m, sided = "two"))
lengths <- data.frame(shift = c(0, shifts), ewma = c(xewma.arl(0.2, 2.7, 0, sided = "two"), ewma),
                      cusum = c(xcusum.arl(0.5, 4, 0, sided = "two"), cusum))
cat(toJSON(list(ewma_weight = 0.2, ewma_limit = 2.7, cusum_slack = 0.5, cusum_limit = 4, lengths = lengths),
           auto_unbox = TRUE, digits = 10))
