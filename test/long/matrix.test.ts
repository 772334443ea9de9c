// The kinds of sources that each format treats in a way of its own, but for those that test/e2e/matrix.test.ts takes.
import { otherCases } from '../support/whole-way/cases.ts';
import { testWholeWay } from '../support/whole-way/test-whole-way.ts';

testWholeWay(otherCases);
