package web

var french = english
