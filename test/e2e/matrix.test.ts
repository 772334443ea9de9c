// Nearly every kind of source the whole way; test/long/matrix.test.ts takes those in other formats that aren't here.
import { keyCases } from '../support/whole-way/cases.ts';
import { testWholeWay } from '../support/whole-way/test-whole-way.ts';

testWholeWay(keyCases);
